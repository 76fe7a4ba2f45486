"""The draft as heard.  Events are read back with a reader of our own for the test: Standard MIDI Files 1.0, MIDI 1.0."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from reduce.model.draft import Draft, DraftMark
from reduce.model.score import Tempo
from reduce.notate import midi
from reduce.notate.playing_order import playing_order
from tests.notate.scores import draft

BEAT = 96


@dataclass
class Heard:
    """Keys as (tick, key, velocity, length) by track, tempo as (tick, quarters a minute); 480 ticks a quarter."""

    format: int
    tracks: list[list[tuple[int, int, int, int]]]
    tempo: list[tuple[int, float]]


def heard(data: bytes) -> Heard:
    assert data[:4] == b"MThd" and int.from_bytes(data[12:14], "big") == 480
    found = Heard(int.from_bytes(data[8:10], "big"), [], [])
    at = 14
    while at < len(data):
        assert data[at : at + 4] == b"MTrk"
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        found.tracks.append(_track(data, at + 8, end, found.tempo))
        at = end
    return found


def _track(data: bytes, at: int, end: int, tempo: list[tuple[int, float]]) -> list[tuple[int, int, int, int]]:
    tick, keys, down = 0, [], {}
    while at < end:
        delta, at = _number(data, at)
        tick += delta
        status = data[at]
        if status == 0xFF:
            length, start = _number(data, at + 2)
            if data[at + 1] == 0x51:
                tempo.append((tick, round(60_000_000 / int.from_bytes(data[start : start + 3], "big"), 1)))
            at = start + length
        elif status >> 4 in (8, 9):
            key, velocity = data[at + 1], data[at + 2]
            if status >> 4 == 9:
                down[key] = (tick, velocity)
            else:
                start, loud = down.pop(key)
                keys.append((start, key, loud, tick - start))
            at += 3
        else:
            at += 2 if status >> 4 == 0xC else 3
    assert not down
    return sorted(keys)


def _number(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    while True:
        value = value << 7 | data[at] & 0x7F
        at += 1
        if not data[at - 1] & 0x80:
            return value, at


TUNE = "meter 4/4\ntempo 90\nright | c5:4 d5 e5 f5 | g5:1 |\nleft | c3:1 | c3:1 |"


def marked(text: str, *marks: tuple[str, int, int, str]) -> Draft:
    return draft(text, tuple(DraftMark(kind=kind, onset=on, end=end, text=word) for kind, on, end, word in marks))  # type: ignore[arg-type]


def test_three_tracks() -> None:
    """Format 1: tempo and signatures, right hand, left hand; notes where and as long as they are written."""
    found = heard(midi(draft(TUNE)))
    assert (1, 3) == (found.format, len(found.tracks))
    assert [(0, 72), (480, 74), (960, 76), (1440, 77), (1920, 79)] == [(tick, key) for tick, key, _, _ in found.tracks[1]]
    assert [1920, 1920] == [length for *_, length in found.tracks[2]]
    assert [(0, 90.0)] == found.tempo


def test_dynamics_and_hairpins() -> None:
    """p is softer than f, a hairpin rises note by note, an accent stands out."""
    found = heard(midi(marked(TUNE, ("dynamic", 0, 0, "p"), ("hairpin", 0, 4 * BEAT, "crescendo"), ("dynamic", 4 * BEAT, 4 * BEAT, "f"))))
    loud = [velocity for _, _, velocity, _ in found.tracks[1]]
    assert loud == sorted(loud) and 96 - 49 == loud[-1] - loud[0]
    accent = heard(midi(draft("meter 4/4\nright | c5:2 d5:2 (accent) |\nleft | c3:1 |"))).tracks[1]
    assert accent[1][2] > accent[0][2]


def test_a_fermata_is_held() -> None:
    """Under a fermata the tempo is half for the last two beats of the note, and then what it was."""
    found = heard(midi(draft("meter 4/4\ntempo 90\nright | c5:1 (fermata) | d5:1 |\nleft | c3:1 | c3:1 |")))
    assert [(0, 90.0), (960, 45.0), (1920, 90.0)] == found.tempo


def test_short_notes_and_strokes() -> None:
    """Staccato lasts half, three tremolo strokes are thirty-seconds, a rolled chord comes note after note."""
    found = heard(midi(draft("meter 4/4\nright | c5:4 (staccato) r:4 d5:4 (tremolo-3) r:4 |\nleft | <c3 e3 g3>:1 (roll) |")))
    assert 240 == found.tracks[1][0][3]
    assert 8 == len(found.tracks[1]) - 1
    assert [0, 20, 40] == [tick for tick, *_ in found.tracks[2]]


def test_a_key_is_down_once() -> None:
    """A held inner note and a tune that strikes its key: the key comes up and goes down again, and is never left hanging."""
    found = heard(midi(draft("meter 4/4\nright | r:2 c5:2 |\nright, voice 2 | c5:1 |\nleft | c3:1 |")))
    assert [(0, 72, 960), (960, 72, 960)] == [(tick, key, length) for tick, key, _, length in found.tracks[1]]


def test_tempo_changes() -> None:
    """Each tempo holds until the next."""
    made = replace(draft(TUNE), tempos=(Tempo(onset=0, quarters=90.0), Tempo(onset=4 * BEAT, quarters=60.0)))
    assert [(0, 90.0), (1920, 60.0)] == heard(midi(made)).tempo


@pytest.mark.parametrize(
    ("bars", "expected"),
    [
        ("a b c", "abc"),
        ("|:a b:| c", "ababc"),
        ("a b:| |:c d:|", "ababcdcd"),
        ("|:a b1:| c2 d", "abacd"),
        ("|:a b1,2:| c3 d", "ababacd"),
        ("a bFINE c DC", "abcDab"),
        ("a SEG c DS e", "aScDScDe"),
        ("SEG bTO c DS COD f", "SbcDSbCf"),
        ("|:a b1:| c2 DC", "abacDacD"),
    ],
)
def test_order_of_play(bars: str, expected: str) -> None:
    """Repeats, endings, D.C. and D.S. (common practice: after the jump no repeats, the last ending).

    In the text a bar is a letter, '|:' and ':|' repeats, a number its ending.
    """
    import re

    words = bars.split()
    made = list(draft(f"meter 4/4\nright | {'c5:1 | ' * len(words)}\nleft | {'c3:1 | ' * len(words)}").bars)
    for k, word in enumerate(words):
        numbers = tuple(int(n) for n in re.findall(r"\d", word))
        jumps = {"FINE": "fine", "DC": "da-capo", "SEG": "segno", "DS": "dal-segno", "TO": "to-coda", "COD": "coda"}
        made[k] = replace(
            made[k], repeat_start="|:" in word, repeat_end=2 if ":|" in word else 0, endings=numbers, ending_start=bool(numbers),
            ending_stop="stop" if numbers else "", jumps=tuple(name for sign, name in jumps.items() if sign in word),
        )  # fmt: skip
    letters = [word.strip("|:")[0] for word in words]
    assert expected == "".join(letters[k] for k in playing_order(made))
