"""What speaks for and against each line as the tune: musical measurements, beat by beat.

Every measurement has a name; ``rules/melody.toml`` says in musical words what it means.  All are computed for every line
at once with numpy (imported late, since it costs more to load than most pieces cost to measure).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reduce.analyse.distinct import distinct
from reduce.analyse.lines import Grid, Line
from reduce.analyse.motifs import Events, figures_of, recurrence
from reduce.analyse.sonority import against_harmony, mates, pairs, partners, room_above
from reduce.analyse.windows import between, running
from reduce.model.record import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float32]

DESKS = (
    "violin", "flute", "oboe", "clarinet", "bassoon", "horn", "trumpet", "trombone", "tuba", "viola", "cello", "double-bass",
    "voice", "keyboard", "harp", "woodwind", "brass", "strings", "percussion", "unknown",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Measurements of all lines.  Tables have a row a beat and a column a stream.

    ``features`` by name; ``active`` where the line sounds; ``struck`` onsets a beat; ``same`` and ``thirds`` [beat, a, b]
    count the onsets of the window around the beat that two lines strike with one pitch class, and a third or sixth apart;
    ``events`` are the flat arrays of all line notes that later passes need.
    """

    features: dict[str, Table]
    active: NDArray[np.bool_]
    struck: Table
    same: Table
    thirds: Table
    events: Events


def measure(lines: Sequence[Line], grid: Grid, desks: Sequence[str], order: Sequence[int]) -> Evidence:
    """Measure every line of the piece.

    Args:
        lines: the outline of each stream.
        grid: the felt beats.
        desks: the kind of player of each stream.
        order: the part index of each stream (players of one kind are numbered in this order).
    """
    import numpy as np

    count, streams = len(grid.bars), len(lines)
    starts = np.array(grid.starts, dtype=np.int64)
    length = np.maximum(np.diff(starts), 1).astype(np.float32)[:, None]
    bar = grid.per_bar
    tuneful = np.array([d != "percussion" for d in desks])

    stream = np.concatenate([np.full(len(line.notes), line.stream, dtype=np.int64) for line in lines])
    notes = [note for line in lines for note in line.notes]
    onset = np.array([n.onset for n in notes], dtype=np.int64)
    midi = np.array([n.midi for n in notes], dtype=np.int64)
    place = np.array([n.pitch.diatonic for n in notes], dtype=np.int64)
    shake = np.array([n.tremolo > 0 or n.tremolo_pair != "" for n in notes], dtype=np.float32)
    accent = np.array([bool(n.articulations) for n in notes], dtype=np.float32)
    end = np.array([e for line in lines for e in line.ends], dtype=np.int64)
    size = np.array([s for line in lines for s in line.sizes], dtype=np.int64)
    beat = np.clip(np.searchsorted(starts, onset, "right") - 1, 0, count - 1)
    cell = beat * streams + stream
    first = np.ones(len(stream), dtype=bool)
    first[1:] = stream[1:] != stream[:-1]
    last = np.roll(first, -1)

    def per_cell(weights: Any) -> Any:
        return np.bincount(cell, weights, count * streams).reshape(count, streams).astype(np.float32)

    # the notes one after another
    step = np.where(first, 0, midi - np.roll(midi, 1))
    gap = np.where(first, 1 << 30, onset - np.roll(end, 1))
    wait = np.where(last, end - onset, np.roll(onset, -1) - onset)  # to the next onset
    before = np.where(first, 1 << 30, onset - np.roll(onset, 1))
    linked = ~first & (gap < length[beat, 0] * 1.01)
    small = np.abs(step)
    starts_after_rest = gap >= length[beat, 0] * 0.99

    struck = per_cell(np.ones(len(onset)))
    steps = per_cell(linked & (small >= 1) & (small <= 2))
    leaps = per_cell(linked & (small >= 5))
    repeats = per_cell(linked & (small == 0))
    links = per_cell(linked)
    turns_event = np.zeros(len(step), dtype=bool)
    turns_event[:-1] = (step[:-1] * step[1:] < 0) & linked[:-1] & linked[1:]
    turns = per_cell(turns_event)
    even = per_cell(linked & (wait == before))
    chordal = per_cell(size - 1)
    shakes = per_cell(shake)
    accents = per_cell(accent)
    entries = per_cell(starts_after_rest)
    on_beat = per_cell(onset == starts[beat])
    longest = np.zeros((count, streams), dtype=np.float32)
    np.maximum.at(longest, (beat, stream), (end - onset) / length[beat, 0])

    # variety inside a bar's window: different pitches and different values
    variety = _distinct(stream, beat, midi, count, streams, bar, bar)
    rhythm_variety = _distinct(stream, beat, np.minimum(wait, 1 << 20), count, streams, bar, bar)

    # sound, moment by moment
    times = distinct(np.concatenate([onset, starts[:-1]]))
    times = times[(times >= starts[0]) & (times < starts[-1])]
    pitch = np.zeros((len(times), streams), dtype=np.int16)
    hit = np.zeros((len(times), streams), dtype=bool)
    low, high = np.searchsorted(times, onset), np.searchsorted(times, end)
    for a, b, s, p in zip(low.tolist(), high.tolist(), stream.tolist(), midi.tolist(), strict=True):
        pitch[a:b, s] = p
    hit[low, stream] = True
    pitch[:, ~tuneful] = 0
    edges = np.searchsorted(times, starts[:-1])
    spans = np.diff(np.append(times, starts[-1])).astype(np.float32)[:, None]
    sounding = pitch > 0

    def per_beat(table: Any) -> Any:
        return np.add.reduceat(table, edges, axis=0).astype(np.float32)

    ceiling = pitch.max(axis=1, keepdims=True)
    floor = np.where(sounding, pitch, 999).min(axis=1, keepdims=True)
    sound = per_beat(sounding * spans) / length
    is_top = per_beat((sounding & (pitch == ceiling)) * spans) / length
    is_low = per_beat((sounding & (pitch == floor)) * spans) / length
    height = per_beat(pitch * spans) / length
    below = per_beat((sounding * (ceiling - pitch)) * spans) / length
    voices = per_beat(sounding.sum(axis=1, keepdims=True) * spans) / length
    alone_time = per_beat((sounding & (sounding.sum(axis=1, keepdims=True) == 1)) * spans) / length
    top_hit = per_beat((hit & (pitch == ceiling)).astype(np.int16))
    pair_sums = [running(pair, "float32") for pair in pairs(pitch, hit & tuneful[None, :], edges)]
    held_class, lone_class = against_harmony(pitch, hit)
    in_held, lone = per_beat(held_class), per_beat(lone_class)
    room = per_beat(np.where(sounding, room_above(pitch), 0) * spans) / length

    # figures of the piece
    grams = figures_of(stream, place, wait)
    far, close, fresh = [], [], []  # running sums
    for g in grams:
        f, n, new = recurrence(g, stream, beat, count, bar)
        far.append(running(per_cell(f)))
        close.append(running(per_cell(n)))
        fresh.append(running(per_cell(new)))

    active = (sound > 0.01) & tuneful[None, :]
    near = {  # running sums
        name: running(table)
        for name, table in (
            ("struck", struck),
            ("sound", sound),
            ("height", height),
            ("is_top", is_top),
            ("top_hit", top_hit),
            ("is_low", is_low),
            ("below", below),
            ("steps", steps),
            ("leaps", leaps),
            ("repeats", repeats),
            ("turns", turns),
            ("even", even),
            ("chordal", chordal),
            ("on_beat", on_beat),
            ("entries", entries),
            ("links", links),
            ("in_held", in_held),
            ("lone", lone),
            ("room", room),
            ("shakes", shakes),
            ("accents", accents),
            ("alone_time", alone_time),
        )
    }
    windows = {"beat": (0, 0), "bar": (bar // 2, bar // 2), "phrase": (2 * bar, 2 * bar), "before": (2 * bar, -1), "after": (-1, 2 * bar)}
    features = partners(pair_sums, near["struck"], near["height"], near["sound"], windows)
    same, thirds = (between(table, bar // 2, bar // 2) for table in pair_sums[1:])
    del pair_sums
    for name, (back, ahead) in windows.items():
        number = between(near["struck"], back, ahead)
        some = np.maximum(number, 1)
        heard = between(near["sound"], back, ahead)
        some_sound = np.maximum(heard, 0.01)
        wide = np.minimum(np.arange(count) + ahead + 1, count) - np.maximum(np.arange(count) - back, 0)
        wide = np.maximum(wide, 1).astype(np.float32)[:, None]
        level = between(near["height"], back, ahead) / some_sound
        f = {
            "onsets": number / wide,
            "sound": heard / wide,
            "height": level,
            "top": between(near["is_top"], back, ahead) / some_sound,
            "top-struck": between(near["top_hit"], back, ahead) / some,
            "low": between(near["is_low"], back, ahead) / some_sound,
            "below": between(near["below"], back, ahead) / some_sound,
            "steps": between(near["steps"], back, ahead) / some,
            "leaps": between(near["leaps"], back, ahead) / some,
            "repeats": between(near["repeats"], back, ahead) / some,
            "turns": between(near["turns"], back, ahead) / some,
            "even": between(near["even"], back, ahead) / some,
            "chordal": between(near["chordal"], back, ahead) / some,
            "on-beat": between(near["on_beat"], back, ahead) / some,
            "entries": between(near["entries"], back, ahead) / wide,
            "linked": between(near["links"], back, ahead) / some,
        }
        f["in-held"] = between(near["in_held"], back, ahead) / some
        f["lone"] = between(near["lone"], back, ahead) / some
        f["room"] = between(near["room"], back, ahead) / some_sound
        f["desk-mates"] = mates(number > 0, desks)
        lively = number.copy()
        for key, value in (("onsets", f["onsets"]), ("height", f["height"]), ("steps-many", between(near["steps"], back, ahead) / wide)):
            best = np.where(active | (lively > 0), value, -1).max(axis=1, keepdims=True)
            f[key + "-lead"] = value - best
        if name in ("bar", "phrase"):
            f["shakes"] = between(near["shakes"], back, ahead) / some
            f["accents"] = between(near["accents"], back, ahead) / some
            f["alone"] = between(near["alone_time"], back, ahead) / some_sound
            for g, a, b, c in zip(grams, far, close, fresh, strict=True):
                f["returns-" + g.name] = between(a, back, ahead) / some
                f["ostinato-" + g.name] = between(b, back, ahead) / some
                f["new-" + g.name] = between(c, back, ahead) / some
            f["returns-lead"] = f["returns-theme"] - np.where(lively > 0, f["returns-theme"], 0).max(axis=1, keepdims=True)
            f["pitches"] = variety / np.maximum(between(near["struck"], bar, bar), 1)
            f["values"] = rhythm_variety / np.maximum(between(near["struck"], bar, bar), 1)
        features.update({f"{key}.{name}": value for key, value in f.items()})
    features["longest.beat"] = longest
    features["pitches-many"] = variety
    features["values-many"] = rhythm_variety
    rest = _since_rest(stream, beat, starts_after_rest, count, streams)
    own = (features["height.phrase"] * (active > 0)).sum(0, keepdims=True) / np.maximum(active.sum(0, keepdims=True), 1)
    features["above-own"] = features["height.bar"] - own
    features["since-rest"] = np.minimum(rest / bar, 16)
    features["voices"] = np.repeat(voices, streams, axis=1)
    features["fullness"] = np.repeat((active.sum(axis=1, keepdims=True) / max(1, int(tuneful.sum()))).astype(np.float32), streams, axis=1)
    features["livelier"] = _rank(between(near["struck"], bar // 2, bar // 2), active)
    features["higher"] = _rank(features["height.bar"], active)
    features["steppier"] = _rank(between(near["steps"], 2 * bar, 2 * bar), active)
    share = between(near["is_top"], 8 * bar, 8 * bar)
    features["top.section"] = share / np.maximum(between(near["sound"], 8 * bar, 8 * bar), 0.01)
    features["top.piece"] = np.repeat((is_top.sum(0, keepdims=True) / np.maximum(sound.sum(0, keepdims=True), 0.01)), count, axis=0)
    features["onsets.piece"] = np.repeat(struck.sum(0, keepdims=True) / np.maximum(sound.sum(0, keepdims=True), 1), count, axis=0)
    features["sound.piece"] = np.repeat(sound.mean(0, keepdims=True), count, axis=0)
    seat = np.array([sum(1 for d, o in zip(desks, order, strict=True) if d == desks[s] and o < order[s]) for s in range(streams)])
    features["desk"] = np.repeat(np.array([[DESKS.index(d) for d in desks]], dtype=np.float32), count, axis=0)
    features["seat"] = np.repeat(seat[None, :].astype(np.float32), count, axis=0)
    features["strings"] = np.repeat(
        np.array([[d in ("violin", "viola", "cello", "double-bass") for d in desks]], dtype=np.float32), count, axis=0
    )
    features["singers"] = np.full((count, streams), sum(d == "voice" for d in desks), dtype=np.float32)
    features["inside"] = np.repeat(np.array(grid.inside, dtype=np.float32)[:, None], streams, axis=1)
    return Evidence(
        features={k: v.astype(np.float32, copy=False) for k, v in features.items()},
        active=active,
        struck=struck,
        same=same,
        thirds=thirds,
        events=Events(stream=stream, beat=beat, onset=onset, end=end, midi=midi, place=place, size=size, first=first, grams=grams),
    )


def _rank(value: Any, active: Any) -> Any:
    """How many sounding lines have more of it (0 = the most)."""
    import numpy as np

    v = np.where(active, value, -1e9)
    return (v[:, None, :] > v[:, :, None] + 1e-6).sum(axis=2).astype(np.float32)


def _since_rest(stream: Any, beat: Any, entry: Any, count: int, streams: int) -> Any:
    """Beats since the line last came in after a rest (large where it never did)."""
    import numpy as np

    mark = np.full((count, streams), -10_000, dtype=np.int64)
    mark[beat[entry], stream[entry]] = beat[entry]
    mark = np.maximum.accumulate(mark, axis=0)
    return (np.arange(count)[:, None] - mark).astype(np.float32)


def _distinct(stream: Any, beat: Any, value: Any, count: int, streams: int, back: int, ahead: int) -> Any:
    """How many different values the line has in the window of each beat."""
    import numpy as np

    out = np.zeros((count, streams), dtype=np.float32)
    order = np.lexsort((beat, value, stream))
    s, v, b = stream[order], value[order], beat[order]
    # a value counts in the windows of beats b-ahead..b+back; do not count twice where the next equal value's range overlaps
    fresh = np.ones(len(s), dtype=bool)
    fresh[1:] = (s[1:] != s[:-1]) | (v[1:] != v[:-1])
    low = b - ahead
    previous_high = np.where(fresh, -(1 << 30), np.roll(b, 1) + back + 1)
    low = np.maximum(np.maximum(low, previous_high), 0)
    high = np.minimum(b + back + 1, count)
    good = high > low
    diff = np.zeros((count + 1, streams), dtype=np.float32)
    np.add.at(diff, (low[good], s[good]), 1)
    np.add.at(diff, (high[good], s[good]), -1)
    out[:] = np.cumsum(diff, axis=0)[:-1]
    return out
