"""Where the tune goes down into the bass, the left hand has it and the right hand rests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from reduce.arrange.desk import Desk
from reduce.arrange.drum_alone import drummed, entrances
from reduce.arrange.explain import Ledger, bars_named
from reduce.arrange.line import Tone
from reduce.arrange.outline import Outline
from reduce.arrange.strands import Key
from reduce.model.decision import Decision

Span = tuple[int, int]  # ticks


def handed_down(
    keys: Sequence[Key], tune: Sequence[Tone], bass: Sequence[Tone], chosen: Sequence[Span], desk: Desk, ledger: Ledger
) -> tuple[Key, ...]:
    """The keys of both hands with every stretch of the tune that is the bass itself in the left hand, and one decision.

    Args:
        keys: of both hands, the tune's own among the right hand's outer ones.
        tune: as the right hand would play it; ``bass``: the source's bass line in the draft's key.
        chosen: where the arranger named the tune, which then stays in the right hand.
    """
    song = [tone for tone, drum in zip(tune, drummed(desk, tune), strict=True) if not drum]
    low = [(start, end) for start, end in _stretches(song, Outline(bass), desk) if not any(a < end and start < b for a, b in chosen)]
    stretches = (*low, *((row[0].onset, row[-1].end) for row in entrances(desk, tune)))
    if not stretches:
        return tuple(keys)
    out: list[Key] = []
    sung = {(t.onset, t.midi): t for start, end in stretches for t in tune if start <= t.onset < end}
    broad = {stretch for stretch in stretches if _broad([t for t in sung.values() if stretch[0] <= t.onset < stretch[1]], desk)}
    for key in keys:
        stretch = next(((start, end) for start, end in stretches if start < key.end and key.onset < end), None)
        if stretch is None:
            out.append(key)
        elif (key.hand == "right" or key.sung) and key.outer and (key.onset, key.midi) in sung:
            out.append(replace(key, hand="left", strand=1, sung=True))
        elif key.onset < stretch[0]:
            out.append(replace(key, end=stretch[0]))
        elif key.hand == "left" and key.outer and (key.onset, key.midi + 12) in sung and stretch in broad:
            out.append(replace(key, strand=1, end=sung[key.onset, key.midi + 12].end))
    bars = desk.bars
    held = sorted({i for start, end in low for i, bar in enumerate(bars) if bar.start < end and start < bar.end})
    for first, last in _runs(held):
        ledger.add(
            Decision(
                id="",
                kind="hand",
                source_notes=tuple(name for t in sung.values() if bars[first].start <= t.onset < bars[last].end for name in t.sources),
                bars=(bars[first].index, bars[last].index),
                onset=max(bars[first].start, low[0][0]),
                hand="left",
                weight="medium",
                certainty=0.8,
                sentence=(
                    f"{bars_named(bars[first], bars[last])}: the left hand has the tune and the right hand rests, "
                    "because the tune is the bass itself and lies too low for the right."
                ),
                rule="placement.low-tune",
                setting="placement.low-tune.below",
                limit=desk.rules.number("placement.low-tune.below"),
                unit="MIDI number",
            )
        )
    return tuple(sorted(out, key=lambda k: (k.onset, k.hand, k.strand, k.midi)))


def _stretches(tune: Sequence[Tone], bass: Outline, desk: Desk) -> Iterator[Span]:
    """Stretches of the tune between rests and leaps that are mostly low and in which the bass plays nothing else."""
    below, leap = desk.rules.whole("placement.low-tune.below"), desk.rules.whole("placement.low-tune.leap")
    first = 0
    for index in range(1, len(tune) + 1):
        if index < len(tune) and tune[index].onset <= tune[index - 1].end and abs(tune[index].midi - tune[index - 1].midi) < leap:
            continue
        stretch = tune[first:index]
        low = sum(tone.midi < below for tone in stretch)
        if 2 * low > len(stretch) and max(t.midi for t in stretch) < below + 12 and all(_is_bass(tone, bass) for tone in stretch):
            yield stretch[0].onset, stretch[-1].end
        first = index


def _broad(tones: Sequence[Tone], desk: Desk) -> bool:
    """Whether the octave below can go with these tones."""
    slow = desk.rules.number("placement.low-tune.octaves")
    return desk.spans["left"] >= 12 and all(t.duration >= slow * desk.pace(t.onset) for t in tones)


def _is_bass(tone: Tone, bass: Outline) -> bool:
    return all((other.midi - tone.midi) % 12 == 0 and other.onset == tone.onset for other in bass.during(tone.onset, tone.end))


def _runs(indices: Sequence[int]) -> Iterator[Span]:
    """(first, last) of neighbouring indices."""
    for i, index in enumerate(indices):
        if i == 0 or indices[i - 1] != index - 1:
            first = index
        if i + 1 == len(indices) or indices[i + 1] != index + 1:
            yield first, index
