"""The tune's rhythm brought to a level, alike in all like places.

The line is cut into cells (:mod:`reduce.arrange.rhythm_cells`).  Each distinct cell is rewritten once, by the cheapest path over which of
its notes to keep and where to put them; the price of losing a note is its mean worth over all places where the cell stands.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from reduce.arrange.line import Tone
from reduce.arrange.rhythm_cells import Cell, Shape, cells_of
from reduce.arrange.rhythm_hook import Hook, signature
from reduce.arrange.rhythm_values import Vocabulary, refused, spoken, stress, vocabulary
from reduce.model.decision import Decision
from reduce.model.record import replace
from reduce.model.rules import Rules
from reduce.model.score import Bar, Meter
from reduce.model.texture import Chord, Phrase

Placed = tuple[tuple[int, int], ...]  # (piece of the cell, new place in the bar)


def fit_rhythm(
    tones: tuple[Tone, ...],
    bars: Sequence[Bar],
    rules: Rules,
    *,
    resolution: int,
    quarters: float = 0.0,
    slowest: float = 0.0,
    phrases: Sequence[Phrase] = (),
    chords: Sequence[Chord] = (),
    shift: int = 0,
    calm: Collection[int] = (),
) -> tuple[tuple[Tone, ...], tuple[Decision, ...]]:
    """The line in values that the level reads, and one decision for each rhythm that changed.

    ``quarters`` a minute is the draft's tempo (0 = the level's slowest), ``slowest`` the tempo that the piece may be slowed to before its
    theme loses a note (0 = none); ``shift`` the semitones that the line stands above ``chords``.
    ``calm`` names bars (index) in which the tune asks for too much at once: they come without short values, and the theme's rhythm, where
    they have it, wherever it stands.
    ``bars`` hold the line; tones outside them are left out.  Equal rhythms at equal places of the bar come out equal.  A tone whose pitch
    repeats into a dropped one stands for both.
    """
    level = rules.level
    leeway = rules.number("rhythm.pace.leeway")
    tempo = quarters or level.tempo_min
    fastest = level.notes_per_second_one * leeway
    words = vocabulary(level, resolution, tempo, leeway=leeway)
    if words.anything or not tones or not bars:
        return tones, ()
    hook = signature(tones, bars, phrases, resolution, rules)
    patient = min(slowest or tempo, tempo)
    wider = vocabulary(level, resolution, patient, hook=True, leeway=leeway)
    slow_words, slow_wider = vocabulary(level, resolution, 0), vocabulary(level, resolution, 0, hook=True)
    narrower = replace(words, values=words.values - {resolution // 2}, shortest=resolution) if words.pairs else words
    in_hook = set(hook.bars)
    calm = {*calm, *in_hook} if in_hook.intersection(calm) else calm  # the theme's rhythm is one wherever it stands
    cells = cells_of(tones, bars, resolution, calm)
    price = worth(tones, cells, phrases, chords, rules, resolution, shift)
    places: dict[Shape, list[Cell]] = defaultdict(list)
    for cell in cells:
        places[cell.shape].append(cell)
    written: dict[Shape, Placed] = {}
    known = {_figure(cell.shape) for cell in cells if cell.bar in in_hook}
    for shape, found in places.items():
        themed = not in_hook or _figure(shape) in known  # where nothing returns all of the tune is the theme
        slow = _notes_a_second(shape, patient if themed else tempo, resolution) <= fastest
        own = {(True, True): slow_wider, (True, False): slow_words, (False, True): wider, (False, False): words}[slow, themed]
        if words.pairs and _leaping(found, tones, resolution) > rules.number("rhythm.pairs.leaps-share"):
            own = narrower
        if shape.calm:
            own = _by_the_beat(slow_words, shape.meter)
        if all(not refused(own, shape.meter, piece.start, piece.end, piece.kind == "rest") for piece in shape.pieces):
            continue
        mean = [sum(price[cell.tones[k]] if cell.tones[k] >= 0 else 0.0 for cell in found) / len(found) for k in range(len(shape.pieces))]
        fitted_cell = fit_cell(shape, mean, own, rules, _again(found, tones))
        if fitted_cell != tuple((k, piece.start) for k, piece in enumerate(shape.pieces)):  # nothing else may be left to write
            written[shape] = fitted_cell
    fitted, dropped = _rewrite(tones, cells, written)
    decisions, by_shape = _explain(places, written, dropped, tones, slow_words, hook, resolution, bars, (tempo, fastest))
    changed = {cell.tones[k]: by_shape[cell.shape] for cell in cells if cell.shape in written for k, _ in written[cell.shape]}
    line = tuple(replace(tone, changed=changed.get(index, tone.changed)) if tone != tones[index] else tone for index, tone in fitted)
    return line, decisions


def _figure(shape: Shape) -> tuple[tuple[int, int, str], ...]:
    """The rhythm of a cell wherever in the bar it stands: what the theme has on one beat it may have on another."""
    return tuple((piece.start - shape.start, piece.end - shape.start, piece.kind) for piece in shape.pieces)


def _by_the_beat(words: Vocabulary, meter: Meter) -> Vocabulary:
    """The values without any shorter than a quarter, in compound time (two beats of 6/8) without any shorter than its beat."""
    least = meter.beat_ticks(words.resolution) if meter.compound else words.resolution
    values = {least} | {value for value in words.values if value >= least and (value % least == 0 or not meter.compound)}
    return replace(words, values=frozenset(values), shortest=least, grid=least)


def _notes_a_second(shape: Shape, quarters: float, resolution: int) -> float:
    """Notes a second that a cell really has, counted over its length, at least a beat."""
    struck = sum(piece.kind == "tone" for piece in shape.pieces)
    length = max(shape.end - shape.start, shape.meter.beat_ticks(resolution))
    return struck * resolution * quarters / 60 / length


def worth(
    tones: Sequence[Tone],
    cells: Sequence[Cell],
    phrases: Sequence[Phrase],
    chords: Sequence[Chord],
    rules: Rules,
    resolution: int,
    shift: int = 0,
) -> list[float]:
    """What losing each tone would cost, by place, length, contour, phrase and harmony (settings ``rhythm.keep``)."""
    by_stress = rules.numbers("rhythm.keep.stress")
    per_beat = rules.number("rhythm.keep.length-per-beat")
    turning, edge = rules.number("rhythm.keep.turning-point"), rules.number("rhythm.keep.phrase-edge")
    chord_note = rules.number("rhythm.keep.chord-note")
    repeated, passing = rules.number("rhythm.keep.repeated-note"), rules.number("rhythm.keep.passing-note")
    edges = _edges(tones, phrases)
    out = [0.1] * len(tones)
    at = 0
    for cell in cells:
        beat = cell.shape.meter.beat_ticks(resolution)
        for piece, index in zip(cell.shape.pieces, cell.tones, strict=True):
            if piece.kind != "tone":
                continue
            tone = tones[index]
            value = by_stress[stress(cell.shape.meter, piece.start, resolution)] + per_beat * min(2.0, tone.duration / beat)
            before = tones[index - 1].midi if index and tones[index - 1].end == tone.onset else None
            after = tones[index + 1].midi if index + 1 < len(tones) and tones[index + 1].onset == tone.end else None
            if before == tone.midi:
                value += repeated
            elif before is not None and after is not None:
                if (before < tone.midi) == (after < tone.midi) and before != after:
                    value += turning
                if abs(tone.midi - before) <= 2 and abs(after - tone.midi) <= 2:
                    value += passing
            if index in edges:
                value += edge
            while at < len(chords) and chords[at].end <= tone.onset:
                at += 1
            if at < len(chords) and chords[at].start <= tone.onset and (tone.midi - shift) % 12 in chords[at].tones:
                value += chord_note
            out[index] = max(0.3, value)
    return out


def _edges(tones: Sequence[Tone], phrases: Sequence[Phrase]) -> frozenset[int]:
    found = set()
    at = 0
    for phrase in phrases:
        while at < len(tones) and tones[at].onset < phrase.start:
            at += 1
        first = at
        while at < len(tones) and tones[at].onset < phrase.end:
            at += 1
        if at > first:
            found |= {first, at - 1}
    return frozenset(found)


def _leaping(found: Sequence[Cell], tones: Sequence[Tone], resolution: int) -> float:
    """Share of the eighth pairs in these places that leap (more than two semitones)."""
    leaps = pairs = 0
    for cell in found:
        for k in range(len(cell.tones) - 1):
            first, second = cell.tones[k], cell.tones[k + 1]
            lengths = {piece.end - piece.start for piece in cell.shape.pieces[k : k + 2]}
            if first >= 0 and second >= 0 and lengths == {resolution // 2}:
                pairs += 1
                leaps += abs(tones[first].midi - tones[second].midi) > 2
    return leaps / pairs if pairs else 0.0


def _again(found: Sequence[Cell], tones: Sequence[Tone]) -> dict[tuple[int, int], float]:
    """For each pair of pieces of a cell with others between them: the share of its places where both have one key."""
    count = len(found[0].tones)
    out = {}
    for k in range(count):
        for j in range(k + 2, count):
            pairs = [(cell.tones[k], cell.tones[j]) for cell in found]
            same = sum(a >= 0 and b >= 0 and tones[a].midi == tones[b].midi for a, b in pairs)
            if same:
                out[k, j] = same / len(pairs)
    return out


def fit_cell(
    shape: Shape, worths: Sequence[float], words: Vocabulary, rules: Rules, again: Mapping[tuple[int, int], float] | None = None
) -> Placed:
    """The cheapest reading of one cell: which pieces stay, and at which place of the bar each begins.

    ``worths`` is the price of losing each piece; ``again`` says in what share of the places two pieces with others between them have one
    key: side by side the second would be an echo that nobody wrote, worth less than nothing.  Every length that results is read by the
    level; where no reading exists (a bar shorter than the level's shortest value), the dearest piece fills the cell.
    """
    pieces, count = shape.pieces, len(shape.pieces)
    beat = shape.meter.beat_ticks(words.resolution)
    per_tick = rules.number("rhythm.move.per-beat") / beat
    far = int(rules.number("rhythm.move.farthest-beats") * beat)
    rest, tie = rules.number("rhythm.keep.rest-per-beat"), rules.number("rhythm.keep.tie")
    odd = -rules.number("rhythm.keep.repeated-note")
    loss = [
        rest * (piece.end - piece.start) / beat if piece.kind == "rest" else tie if piece.kind == "held" else worths[k]
        for k, piece in enumerate(pieces)
    ]
    lost = [0.0]
    for value in loss:
        lost.append(lost[-1] + value)
    spots = _spots(shape, words)
    # best[(piece, place)] = (price so far, the piece and place before it)
    best: dict[tuple[int, int], tuple[float, tuple[int, int] | None]] = {}
    for k, piece in enumerate(pieces):
        move = piece.start - shape.start
        if k == 0 or (move <= far and piece.kind == "tone"):
            best[(k, shape.start)] = (lost[k] + move * per_tick, None)
    final: tuple[float, tuple[int, int]] | None = None
    for place in spots:
        for k in range(count):
            here = best.get((k, place))
            if here is None:
                continue
            silent = pieces[k].kind == "rest"
            if not refused(words, shape.meter, place, shape.end, silent):
                total = here[0] + lost[count] - lost[k + 1]
                if final is None or total < final[0] - 1e-9:
                    final = (total, (k, place))
            for later in spots:
                if later <= place or refused(words, shape.meter, place, later, silent):
                    continue
                for j in range(k + 1, count):
                    move = abs(pieces[j].start - later)
                    if move > far or pieces[j].kind == "held":
                        continue
                    echo = (loss[j] + odd) * again.get((k, j), 0.0) if again else 0.0
                    total = here[0] + lost[j] - lost[k + 1] + move * per_tick + echo
                    if (j, later) not in best or total < best[(j, later)][0] - 1e-9:
                        best[(j, later)] = (total, (k, place))
    if final is None:
        dearest = max(range(count), key=lambda k: loss[k])
        return ((dearest, shape.start),)
    path: list[tuple[int, int]] = []
    state: tuple[int, int] | None = final[1]
    while state is not None:
        path.append(state)
        state = best[state][1]
    return tuple(reversed(path))


def _spots(shape: Shape, words: Vocabulary) -> list[int]:
    """Places where a note may begin: the level's grid, and the cell's own triplet places where the level has triplets."""
    spots = set(range(shape.start - shape.start % words.grid, shape.end, words.grid))
    if words.triplets or shape.meter.compound:
        spots |= {piece.start for piece in shape.pieces}
    return sorted(spot for spot in spots if spot >= shape.start)


def _rewrite(
    tones: Sequence[Tone], cells: Sequence[Cell], written: Mapping[Shape, Placed]
) -> tuple[list[tuple[int, Tone]], frozenset[int]]:
    """The tones on their new places, with the index of the source tone of each, and the indices of those that were dropped."""
    events: list[tuple[int, int]] = []  # tick, tone index or -1
    last = 0
    for cell in cells:
        placed = written.get(cell.shape)
        kept = placed if placed is not None else tuple((k, piece.start) for k, piece in enumerate(cell.shape.pieces))
        for k, place in kept:
            event = (cell.origin + place, cell.tones[k])
            if not events or events[-1][1] != event[1]:
                events.append(event)
        last = cell.origin + cell.shape.end
    out: list[tuple[int, Tone]] = []
    alive = {index for _, index in events if index >= 0}
    for (tick, index), (until, _) in zip(events, [*events[1:], (last, -1)], strict=True):
        if index < 0:
            continue
        tone = tones[index]
        sources = tone.sources
        follow = index + 1
        while follow < len(tones) and follow not in alive and tones[follow].midi == tone.midi:
            sources += tones[follow].sources
            follow += 1
        if (tick, until, sources) != (tone.onset, tone.end, tone.sources):
            tone = replace(tone, onset=tick, end=until, sources=sources)
        out.append((index, tone))
    return out, frozenset(range(len(tones))) - alive


def _explain(
    places: Mapping[Shape, Sequence[Cell]],
    written: Mapping[Shape, Placed],
    dropped: frozenset[int],
    tones: Sequence[Tone],
    words: Vocabulary,
    hook: Hook,
    resolution: int,
    bars: Sequence[Bar],
    pace: tuple[float, float],
) -> tuple[tuple[Decision, ...], dict[Shape, str]]:
    """One decision for each pair of rhythms (before, after), wherever in the bar it stands."""
    groups: dict[tuple[tuple[int, ...], tuple[int, ...]], list[Shape]] = defaultdict(list)
    for shape, placed in written.items():
        before = tuple((piece.end - piece.start) * (-1 if piece.kind == "rest" else 1) for piece in shape.pieces)
        ends = [place for _, place in placed[1:]] + [shape.end]
        after = tuple((end - place) * (-1 if shape.pieces[k].kind == "rest" else 1) for (k, place), end in zip(placed, ends, strict=True))
        groups[(before, after)].append(shape)
    printed = {bar.index: bar.number for bar in bars}
    decisions, by_shape = [], {}
    for order, ((before, after), shapes) in enumerate(groups.items(), 1):
        found = sorted((cell for shape in shapes for cell in places[shape]), key=lambda cell: cell.origin + cell.shape.start)
        name = f"rhythm-{order}"
        by_shape.update(dict.fromkeys(shapes, name))
        lost = [index for cell in found for index in cell.tones if index in dropped]
        touched = [source for cell in found for index in cell.tones if index >= 0 for source in tones[index].sources]
        refusals = [refused(words, shape.meter, piece.start, piece.end, piece.kind == "rest") for shape in shapes for piece in shape.pieces]
        speed = max(_notes_a_second(shape, pace[0], resolution) for shape in shapes)
        reason = next((why for why in refusals if why), "the pair leaps, and eighths come by step here")
        if speed > pace[1] and not any(refusals):
            reason = f"it would be {speed:.1f} notes a second; the limit is {pace[1]:.1f}"
        if not any(refusals) and any(shape.calm for shape in shapes):
            reason = "the bar would have two things at the limit at once"
        numbers = list(dict.fromkeys(printed[cell.bar] for cell in found))
        where = f"Bar {numbers[0]}" if len(numbers) == 1 else f"Bars {numbers[0]}–{numbers[-1]}, {len(found)} places"
        in_theme = any(cell.bar in hook.bars for cell in found)
        price = f"{len(lost)} notes of the tune are left out" if len(lost) > 1 else "one note is left out" if lost else "no note is lost"
        decisions.append(
            Decision(
                id=name,
                kind="rhythm",
                bars=(found[0].bar, found[-1].bar),
                sentence=f"{where}: {spoken(after, resolution)} for {spoken(before, resolution)}, because {reason}; {price}"
                + (", alike wherever the theme has it." if in_theme else "."),
                onset=found[0].origin + found[0].shape.start,
                hand="right",
                weight="medium" if in_theme or len(found) > 7 else "small",
                rule="rhythm.keep",
                setting="level.shortest",
                measured=min(abs(length) for length in before) / resolution,
                limit=words.shortest / resolution,
                unit="quarter-notes",
                source_notes=tuple(touched),
            )
        )
    if hook.lengths:
        kept = all(cell.shape not in written for found in places.values() for cell in found if cell.bar in hook.bars)
        what = "kept as it is, because" if kept else "simplified the same way everywhere, so that"
        known = "listeners know the piece by it" if kept else "listeners still know the piece by it"
        decisions.insert(
            0,
            Decision(
                id="rhythm-theme",
                kind="rhythm",
                bars=(hook.bars[0], hook.bars[-1]),
                sentence=f"The theme's rhythm{hook.words and f' ({hook.words})'}, in {len(hook.bars)} bars from bar "
                f"{printed[hook.bars[0]]} on, is {what} {known}.",
                hand="right",
                weight="big" if not kept else "medium",
                rule="rhythm.signature",
                setting="rhythm.signature.phrases",
                measured=float(len(hook.bars)),
                limit=float(value_limit(words)),
                unit="bars",
            ),
        )
    return tuple(decisions), by_shape


def value_limit(words: Vocabulary) -> float:
    """The level's shortest value in quarter-notes."""
    return words.shortest / words.resolution
