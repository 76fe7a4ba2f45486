"""MusicXML in small, for tests of reading: one line a bar, written as text.

``n("c#4 4")`` is a note (pitch, duration in divisions) with whatever else follows inside; ``r("4")`` a rest.
"""

from __future__ import annotations

import re
from pathlib import Path

from reduce.model.score import Note, Score
from reduce.read import load
from reduce.rulebook import load as rules

INSTRUMENTS = rules("advanced").instruments
_ALTER = {"": "", "#": "<alter>1</alter>", "##": "<alter>2</alter>", "b": "<alter>-1</alter>", "bb": "<alter>-2</alter>"}


def n(text: str, inside: str = "", *, chord: bool = False, voice: str = "1", staff: str = "", head: str = "", attributes: str = "") -> str:
    """A note: "c#4 2".  ``head`` stands before the pitch (grace, cue), ``inside`` behind the voice (type, notations ...)."""
    name, _, duration = text.partition(" ")
    found = re.fullmatch(r"([a-g])(##|#|bb|b|)(-?\d)", name)
    assert found, text
    step, sign, octave = found.groups()
    ties = "".join(re.findall(r"<tie [^>]*/>", inside))
    rest = re.sub(r"<tie [^>]*/>", "", inside)
    return (
        f"<note{attributes}>{head}{'<chord/>' if chord else ''}"
        f"<pitch><step>{step.upper()}</step>{_ALTER[sign]}<octave>{octave}</octave></pitch>"
        f"{f'<duration>{duration}</duration>' if duration else ''}{ties}<voice>{voice}</voice>"
        f"{rest.partition('<notations>')[0]}{f'<staff>{staff}</staff>' if staff else ''}"
        f"{'<notations>' + rest.partition('<notations>')[2] if '<notations>' in rest else ''}</note>"
    )


def r(duration: str, inside: str = "", voice: str = "1") -> str:
    return f"<note><rest/><duration>{duration}</duration><voice>{voice}</voice>{inside}</note>"


def back(duration: str) -> str:
    return f"<backup><duration>{duration}</duration></backup>"


def words(text: str, more: str = "") -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type>{more}</direction>"


def start(divisions: int = 1, meter: str = "4/4", fifths: int | None = 0, more: str = "") -> str:
    """The attributes of a first bar; "" as ``meter`` leaves it out."""
    beats, _, unit = meter.partition("/")
    key = "" if fifths is None else f"<key><fifths>{fifths}</fifths></key>"
    time = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>" if meter else ""
    return f"<attributes><divisions>{divisions}</divisions>{key}{time}{more}</attributes>"


def transpose(diatonic: int, chromatic: int, octaves: int = 0, staff: str = "") -> str:
    number = f' number="{staff}"' if staff else ""
    change = f"<octave-change>{octaves}</octave-change>" if octaves else ""
    return f"<transpose{number}><diatonic>{diatonic}</diatonic><chromatic>{chromatic}</chromatic>{change}</transpose>"


def document(*parts: tuple[str, list[str]], head: str = "", first: int = 1) -> str:
    """A score of parts, each a name and its bars; a bar may begin with "{number implicit}" to set its number."""
    listed = "".join(f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>' for k, (name, _) in enumerate(parts, 1))
    body = []
    for k, (_, bars) in enumerate(parts, 1):
        inner = []
        for count, bar in enumerate(bars, first):
            number, implicit = str(count), ""
            found = re.match(r"\{(\S*?)( implicit)?\}", bar)
            if found:
                number, implicit = found[1], ' implicit="yes"' if found[2] else ""
                bar = bar[found.end() :]
            inner.append(f'<measure number="{number}"{implicit}>{bar}</measure>')
        body.append(f'<part id="P{k}">{"".join(inner)}</part>')
    content = f"{head}<part-list>{listed}</part-list>{''.join(body)}"
    return f'<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">{content}</score-partwise>'


def read(folder: Path, text: str | bytes, name: str = "score.musicxml", **more: int) -> Score:
    """The score that ``text`` gives, by way of a file."""
    path = folder / name
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return load(path, INSTRUMENTS, **more)


def one(folder: Path, *bars: str, name: str = "Violin") -> Score:
    """A score of one part."""
    return read(folder, document((name, list(bars))))


def told(score: Score, *notes: Note) -> list[tuple[str, float, float]]:
    """(pitch, onset, duration) of notes in quarter-notes."""
    return [(str(x.pitch), x.onset / score.resolution, x.duration / score.resolution) for x in notes or score.notes]


def codes(score: Score) -> list[str]:
    return [problem.code for problem in score.problems]
