"""Beams by beat and metre, and the direction of stems."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from reduce.model.draft import DraftNote
from reduce.model.score import Meter
from reduce.notate.metre import WHOLE, beat_groups
from reduce.notate.style import Style
from reduce.notate.values import Ruler
from reduce.notate.written import Voice, Written

FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6, "512th": 7, "1024th": 8}
STEMLESS = frozenset({"whole", "breve", "long", "maxima", ""})


@lru_cache(maxsize=512)
def windows(meter: Meter) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Edges within which notes share a beam, and the wider ones that a run of plain eighths may fill (1024ths of a whole).

    Quarter-note beats in simple time, dotted ones in compound time, the printed or usual groups in 5/8 and 7/8, the bar in 3/8;
    eighths: half bars in 4/4, the bar in 2/4 and 3/4 (Gould, *Behind Bars*, 2011, 'Beaming'; from memory).
    """
    groups, unit = beat_groups(meter)
    edges = [0]
    for count in groups:
        edges.append(edges[-1] + count * unit)
    full = edges[-1]
    if meter.unit >= 8:
        if full <= 3 * WHOLE // 8:
            return (0, full), (0, full)
        return tuple(edges), tuple(edges)
    quarter = WHOLE // 4
    base = (*tuple(range(0, full, quarter)), full)
    if len(groups) <= 3 and set(groups) == {1} and unit == quarter:
        return base, (0, full)
    return base, tuple(edges)


def beam_voice(voice: Voice, ruler: Ruler, style: Style) -> list[list[Written]]:
    """Set the beams of a voice; returns its beamed groups."""
    base, wide = windows(ruler.bar.meter)
    full = base[-1]
    groups: list[tuple[int, list[Written]]] = []
    last: tuple[int, int] | None = None
    alone = _across_beats(voice, ruler, base)
    for k, sign in enumerate(voice.written):
        if not sign.notes or sign.type not in FLAGS:
            last = None
            continue
        place = ruler.place(sign.start)
        window = (place // full, _window(base, place % full)) if k not in alone else (-1, alone[k])
        if last == window:
            groups[-1][1].append(sign)
        else:
            groups.append((place, [sign]))
        last = window
    if style.joins_eighths and wide != base:
        groups = _joined(groups, ruler, base, wide, voice)
    found = [group for _, group in groups if len(group) > 1]
    for group in found:
        _set_beams(group, ruler)
    return found


def _across_beats(voice: Voice, ruler: Ruler, base: tuple[int, ...]) -> dict[int, int]:
    """Signs of tuplets that reach over a beat, by index, with the number of their tuplet: each beams within itself."""
    found: dict[int, int] = {}
    full = base[-1]
    first = 0
    for k, sign in enumerate(voice.written):
        if sign.opens:
            first = k
        if sign.closes:
            begin, end = ruler.place(voice.written[first].start), ruler.place(sign.start)
            if begin // full != end // full or _window(base, begin % full) != _window(base, end % full):
                found.update(dict.fromkeys(range(first, k + 1), first))
    return found


def _window(edges: tuple[int, ...], place: int) -> int:
    k = 0
    while edges[k + 1] <= place:
        k += 1
    return k


def _joined(
    groups: list[tuple[int, list[Written]]], ruler: Ruler, base: tuple[int, ...], wide: tuple[int, ...], voice: Voice
) -> list[tuple[int, list[Written]]]:
    """Beats of two plain eighths beamed on where they stand in one wider window."""
    full = base[-1]
    found: list[tuple[int, list[Written]]] = []
    for place, group in groups:
        plain = len(group) == 2 and all(sign.type == "eighth" and not sign.dots and sign.ratio is None for sign in group)
        if plain and found:
            before_place, before = found[-1]
            follows = before[-1].end == group[0].start and all(
                sign.type == "eighth" and not sign.dots and sign.ratio is None for sign in before
            )
            same = before_place // full == place // full and _window(wide, before_place % full) == _window(wide, place % full)
            if follows and same and len(before) % 2 == 0:
                before.extend(group)
                continue
        found.append((place, list(group)))
    return found


def _set_beams(group: list[Written], ruler: Ruler) -> None:
    flags = [FLAGS[sign.type] for sign in group]
    eighth = WHOLE // 8
    beam_break = [False] * len(group)
    if max(flags) >= 3 and len(group) > 4:  # many short notes: the eighths show through the second beam
        for k in range(1, len(group)):
            beam_break[k] = ruler.plain(group[k].start) and ruler.place(group[k].start) % eighth == 0
    states: list[list[str]] = [[] for _ in group]
    for level in range(1, max(flags) + 1):
        for k, count in enumerate(flags):
            if count < level:
                continue
            cut_before = level >= 2 and beam_break[k]
            cut_after = level >= 2 and k + 1 < len(group) and beam_break[k + 1]
            before = k > 0 and flags[k - 1] >= level and not cut_before
            after = k + 1 < len(group) and flags[k + 1] >= level and not cut_after
            if before and after:
                states[k].append("continue")
            elif before:
                states[k].append("end")
            elif after:
                states[k].append("begin")
            elif k == 0 or (k + 1 < len(group) and not group[k - 1].dots and not cut_after):
                states[k].append("forward hook")
            else:
                states[k].append("backward hook")
    for sign, state in zip(group, states, strict=True):
        sign.beams = tuple(state)
    _tuplet_brackets(group)


def _tuplet_brackets(group: list[Written]) -> None:
    """A tuplet that is one whole beam needs no bracket, only its number."""
    if group[0].opens and group[-1].closes and sum(sign.opens for sign in group) == 1:
        group[0].bracket = False


def set_stems(voice: Voice, groups: list[list[Written]], position: Callable[[DraftNote, int], int]) -> None:
    """Stems by voice where the hand has two voices, else by the note farthest from the middle line (the beam as one).

    ``position``: steps of a note above the middle line of its staff, as printed at a tick.
    """
    beamed = {id(sign) for group in groups for sign in group}
    singles = [[sign] for sign in voice.written if sign.notes and sign.type not in STEMLESS and id(sign) not in beamed]
    for group in groups + singles:
        if voice.direction and any(low <= sign.start < high for sign in group for low, high in voice.double):
            stem = voice.direction
        else:
            places = [position(note, sign.start) for sign in group for note in sign.notes]
            stem = "up" if max(places) < -min(places) else "down"
        for sign in group:
            sign.stem = stem
