"""A chord worksheet as MusicXML: note heads without stems, as they lie in the piece and in thirds, with room for their names.

Each chord has one quarter-note of a bar that counts as many quarters as it has chords; the time signature is not printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

from reduce.model.booklet import Heads, HeadsBar, HeadsSheet
from reduce.model.level import Level
from reduce.model.pitch import Pitch
from reduce.model.rules import Rules
from reduce.notate.header import document
from reduce.notate.marks import attribute, text_xml
from reduce.notate.style import style_of

_SHARPS = "FCGDAEB"
_SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def heads_xml(sheet: HeadsSheet, level: Level, rules: Rules | None = None) -> bytes:
    """The worksheet as MusicXML 4.0: a part of two staves and one of a single staff."""
    parts = [("P1", sheet.names[0], "", 0), ("P2", sheet.names[1], "", 0)]
    body = [*_part("P1", sheet.bars, 2), *_part("P2", sheet.bars, 1)]
    return document(sheet.about, style_of(level, rules), parts, body)


def _part(part_id: str, bars: Sequence[HeadsBar], staves: int) -> list[str]:
    out = [f'<part id="{part_id}">']
    key, count = None, 0
    for k, bar in enumerate(bars):
        implicit = ' implicit="yes"' if bar.pickup else ""
        out.append(f"<measure number={attribute(bar.number or '0')}{implicit}>")
        beats = max(1, len(bar.heads))
        parts = ["<divisions>1</divisions>"] if not k else []
        if bar.key.fifths != key:
            parts.append(f"<key><fifths>{bar.key.fifths}</fifths></key>")
        if beats != count:
            parts.append(f'<time print-object="no"><beats>{beats}</beats><beat-type>4</beat-type></time>')
        if not k:
            parts += ["<staves>2</staves>"] if staves == 2 else []
            parts += [_clef("G", 1, staves)] + ([_clef("F", 2, staves)] if staves == 2 else [])
        if parts:
            out.append(f"<attributes>{''.join(parts)}</attributes>")
        key, count = bar.key.fifths, beats
        for staff in range(1, staves + 1):
            if staff == 2:
                out.append(f"<backup><duration>{beats}</duration></backup>")
            signs = _Signs(bar.key.fifths)
            for heads in bar.heads:
                rows = heads.thirds if staves == 1 else heads.upper if staff == 1 else heads.lower
                out += _chord(rows, heads, signs, staff if staves == 2 else 0)
            if not bar.heads:
                out += _chord((), None, signs, staff if staves == 2 else 0)
        if bar.last:
            out.append('<barline location="right"><bar-style>light-heavy</bar-style></barline>')
        out.append("</measure>")
    out.append("</part>")
    return out


class _Signs:
    """Accidentals in force in one bar of one staff."""

    def __init__(self, fifths: int) -> None:
        letters = _SHARPS[: max(0, fifths)] if fifths >= 0 else _SHARPS[::-1][:-fifths]
        self._given = dict.fromkeys(letters, 1 if fifths > 0 else -1)
        self._now: dict[tuple[str, int], int] = {}

    def need(self, pitch: Pitch) -> bool:
        place = (pitch.step, pitch.octave)
        known = self._now.get(place, self._given.get(pitch.step, 0))
        self._now[place] = pitch.alter
        return known != pitch.alter


def _chord(pitches: Sequence[Pitch], heads: Heads | None, signs: _Signs, staff: int) -> list[str]:
    where = f"<staff>{staff}</staff>" if staff else ""
    voice = f"<voice>{staff or 1}</voice>"
    if not pitches:
        return [f'<note print-object="no"><rest/><duration>1</duration>{voice}<type>quarter</type>{where}</note>']
    out = []
    for k, pitch in enumerate(pitches):
        alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
        sign = f"<accidental>{_SIGNS[pitch.alter]}</accidental>" if signs.need(pitch) and pitch.alter in _SIGNS else ""
        bracket = '<notehead parentheses="yes">normal</notehead>' if heads and not staff and pitch in heads.silent else ""
        words = "" if staff or k or heads is None else "".join(chain.from_iterable(_lyrics(heads)))
        out.append(
            f"<note>{'<chord/>' if k else ''}<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"
            f"<duration>1</duration>{voice}<type>quarter</type>{sign}<stem>none</stem>{bracket}{where}{words}</note>"
        )
    return out


def _lyrics(heads: Heads) -> list[str]:
    return [
        f'<lyric number="{line}"><syllabic>single</syllabic><text>{text_xml(words)}</text></lyric>'
        for line, words in enumerate(heads.under, 1)
        if words
    ]


def _clef(sign: str, staff: int, staves: int) -> str:
    number = f' number="{staff}"' if staves > 1 else ""
    return f"<clef{number}><sign>{sign}</sign><line>{2 if sign == 'G' else 4}</line></clef>"
