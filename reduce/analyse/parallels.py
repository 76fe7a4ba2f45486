"""Parallel places: repeats, sequences and the recapitulation, also in another key."""

from __future__ import annotations

from collections.abc import Sequence

from reduce.model.rules import Rules
from reduce.model.score import Score
from reduce.model.texture import Parallel

_FULL = 0xFFF


def parallels(score: Score, rules: Rules) -> tuple[Parallel, ...]:
    """Stretches of whole bars that come again, each with the earlier stretch that it repeats longest.

    A bar is what is struck in it: pitch classes by their place in the bar, so that another octave or another orchestration of the same
    music still counts.  Bars that are alike but for a transposition start a match; it is followed forward and back along equally long
    bars while at least ``alike`` of the struck pitch classes agree.  A later bar belongs to its longest match.

    Returns matches in order of ``second``; ``shift`` is the nearest way, -5..6 semitones.
    """
    family = "form.parallel-places."
    alike = rules.number(family + "alike")
    shortest = rules.whole(family + "bars")
    shortest_moved = rules.whole(family + "bars-transposed")
    contents = _contents(score)
    lengths = [bar.length for bar in score.bars]
    matches = _matches(contents, lengths, alike)
    matches = [match for match in matches if match[2] >= (shortest if match[3] == 0 else shortest_moved)]
    matches.extend(_sequences(score, rules))
    found: list[Parallel] = []
    taken = bytearray(len(contents))
    for first, second, count, shift in sorted(matches, key=lambda match: (-match[2], match[3] != 0, match[1], match[0])):
        fresh = sum(1 for place in range(second, second + count) if not taken[place])
        if 2 * fresh < count or not fresh:
            continue
        for place in range(second, second + count):
            taken[place] = 1
        found.append(
            Parallel(
                first=score.bars[first].start,
                second=score.bars[second].start,
                length=score.bars[second + count - 1].end - score.bars[second].start,
                shift=shift if shift <= 6 else shift - 12,
            )
        )
    return tuple(sorted(found, key=lambda match: (match.second, match.first)))


def _sequences(score: Score, rules: Rules) -> list[tuple[int, int, int, int]]:
    """Models of one to four bars that go on by step inside the scale, so that their intervals are the same in name only.

    Compared are the staff steps struck at each place, in the same rhythm.  The shift is the usual size of the interval in semitones.
    """
    alike = rules.number("form.parallel-places.alike-in-scale")
    shortest = rules.whole("form.parallel-places.bars-transposed")
    steps = {step: index for index, step in enumerate("CDEFGAB")}
    rows: list[dict[int, int]] = [{} for _ in score.bars]
    for note in score.notes:
        if note.kind == "struck" and note.duration:
            place = note.onset - score.bars[note.bar].start
            rows[note.bar][place] = rows[note.bar].get(place, 0) | 1 << steps[note.pitch.step]
    places = [tuple(sorted(row)) for row in rows]
    sizes = [sum(mask.bit_count() for mask in row.values()) for row in rows]

    def agree(first: int, second: int, up: int) -> bool:
        both = sum(((mask << up | mask << up >> 7) & rows[second][place]).bit_count() for place, mask in rows[first].items())
        return both >= alike * (sizes[first] + sizes[second] - both)

    found: list[tuple[int, int, int, int]] = []
    for apart in (1, 2, 3, 4):
        second = apart
        while second < len(rows):
            best, best_up = 0, 0
            for up in range(1, 7):
                count = 0
                while (
                    second + count < len(rows)
                    and len(places[second + count]) > 1
                    and places[second + count] == places[second + count - apart]
                    and agree(second + count - apart, second + count, up)
                ):
                    count += 1
                if count > best:
                    best, best_up = count, up
            if best >= max(apart, shortest):
                found.append((second - apart, second, best, (0, 2, 4, 5, 7, 9, 10)[best_up]))
            second += max(1, best)
    return found


def rotated(mask: int, up: int) -> int:
    """A 12-bit set of pitch classes moved up by semitones."""
    mask <<= up
    return (mask | mask >> 12) & _FULL


def _contents(score: Score) -> list[tuple[tuple[int, int], ...]]:
    """For each bar its (place, set of pitch classes struck there), in order of place."""
    bars: list[dict[int, int]] = [{} for _ in score.bars]
    starts = [bar.start for bar in score.bars]
    for note in score.notes:
        if note.kind == "struck" and note.duration:
            content = bars[note.bar]
            place = note.onset - starts[note.bar]
            content[place] = content.get(place, 0) | 1 << note.midi % 12
    return [tuple(sorted(content.items())) for content in bars]


def _canonical(content: tuple[tuple[int, int], ...], length: int) -> tuple[tuple[object, ...], int]:
    """The content whatever its key, and how far it lies above that standing form.

    The turn that makes the first set, then the next, smallest is the same for all transpositions.
    """
    turns = list(range(12))
    for _, mask in content:
        best = min(rotated(mask, up) for up in turns)
        turns = [up for up in turns if rotated(mask, up) == best]
        if len(turns) == 1:
            break
    up = turns[0]
    return (length, *((place, rotated(mask, up)) for place, mask in content)), up


def _matches(contents: Sequence[tuple[tuple[int, int], ...]], lengths: Sequence[int], alike: float) -> list[tuple[int, int, int, int]]:
    """Maximal matches as (first bar, second bar, bars, shift 0..11)."""
    places: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    covered: dict[tuple[int, int], list[tuple[int, int]]] = {}  # (distance, shift) -> stretches of second bars
    sizes = [sum(mask.bit_count() for _, mask in content) for content in contents]
    cache: dict[tuple[int, int, int], bool] = {}

    def agree(first: int, second: int, shift: int) -> bool:
        if lengths[first] != lengths[second]:
            return False
        if not sizes[first] or not sizes[second]:
            return sizes[first] == sizes[second]
        pair = (first, second, shift)
        known = cache.get(pair)
        if known is None:
            other = dict(contents[second])
            both = sum((rotated(mask, shift) & other.get(place, 0)).bit_count() for place, mask in contents[first])
            known = cache[pair] = both >= alike * (sizes[first] + sizes[second] - both)
        return known

    found: list[tuple[int, int, int, int]] = []
    for second, content in enumerate(contents):
        if sizes[second] < 3:
            continue
        form, up = _canonical(content, lengths[second])
        earlier = places.setdefault(form, [])
        for first, other_up in earlier[-12:]:
            shift = (other_up - up) % 12
            runs = covered.setdefault((second - first, shift), [])
            if any(start <= second < stop for start, stop in runs):
                continue
            back = 0
            while first - back > 0 and agree(first - back - 1, second - back - 1, shift):
                back += 1
            ahead = 1
            while second + ahead < len(contents) and agree(first + ahead, second + ahead, shift):
                ahead += 1
            runs.append((second - back, second + ahead))
            start, stop = -back, ahead  # silent bars at the ends prove nothing
            while start < stop and not sizes[second + start]:
                start += 1
            while stop > start and not sizes[second + stop - 1]:
                stop -= 1
            found.append((first + start, second + start, stop - start, shift))
        earlier.append((second, up))
    return found
