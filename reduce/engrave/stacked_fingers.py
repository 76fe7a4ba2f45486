"""Fingers of a chord in one column, in the order of its notes.

Verovio places the finger of each note by itself, so that where heads of a second stand side by side two numbers end up
beside each other.  Given to one note of the chord they are stacked.  A trill or another sign above the chord is printed over the second
of them, so that there only the finger of the upper note is left.  (The file of the draft keeps each finger at its note.)
"""

from __future__ import annotations

import re

_FINGER = re.compile(r"<technical>(<fingering[^>]*>[^<]*</fingering>)</technical>")
_SIGN = re.compile(r"<ornaments>(?!<tremolo)")
_END = "</notations></note>"


def stacked(musicxml: str) -> str:
    """The file, one note a line as `reduce.notate` writes it, with the fingers of each chord at its first note."""
    if "<fingering" not in musicxml:
        return musicxml
    out: list[str] = []
    chord: list[str] = []
    for line in musicxml.split("\n"):
        if chord and "<chord/>" not in line:
            out += _stack(chord)
            chord = []
        if line.startswith("<note "):
            chord.append(line)
        else:
            out.append(line)
    return "\n".join(out + _stack(chord))


def _stack(chord: list[str]) -> list[str]:
    fingers = [found[1] for line in chord if (found := _FINGER.search(line))]
    if len(fingers) < 2:
        return chord
    lines = [_FINGER.sub("", line).replace("<notations></notations>", "") for line in chord]
    if 'placement="below"' in fingers[0]:
        fingers.reverse()  # the number next to the chord belongs to its nearest note
    elif any(_SIGN.search(line) for line in chord):
        del fingers[:-1]
    column = f"<technical>{''.join(fingers)}</technical>"
    if lines[0].endswith(_END):
        lines[0] = lines[0].removesuffix(_END) + column + _END
    else:
        lines[0] = lines[0].removesuffix("</note>") + f"<notations>{column}{_END}"
    return lines
