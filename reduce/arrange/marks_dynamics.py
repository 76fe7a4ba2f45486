"""One line of dynamics: the tune's own mark first, then what most parts agree on, in the words that the level knows."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import groupby

from reduce.arrange.marks_place import Page
from reduce.arrange.marks_words import GROWS
from reduce.model.decision import Decision
from reduce.model.draft import DraftMark
from reduce.model.record import replace
from reduce.model.score import Mark

LOUDNESS = ("pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
_LETTERS = set("pmfszr")  # of words for loudness and stress; brackets and words like "sempre" are none
_AFTER_STRESS = {"fp": "p", "sfp": "p", "sfpp": "pp", "ffp": "p"}  # what follows the stress


def merge_dynamics(page: Page) -> tuple[list[DraftMark], list[Decision]]:
    """Dynamics and hairpins in draft ticks, and a decision where the level's vocabulary changed them."""
    steady, clipped = _dynamics(page)
    pins, dropped = _hairpins(page, [mark.onset for mark in steady])
    decisions = []
    if clipped:
        words = ", ".join(f"{old} to {new or 'nothing'}" for old, new in sorted({(old, new) for _, old, new in clipped}))
        where = page.numbers(clipped[0][0], clipped[-1][0])
        sentence = f"{where}: dynamics brought to the level's words ({words})."
        decisions.append(_decision(page, "notation-dynamics", clipped[0][0], clipped[-1][0], sentence))
    if dropped:
        where = page.numbers(dropped[0], dropped[-1])
        reason = f"{where}: {len(dropped)} hairpins left out, because this level has none; the dynamic that follows says where they lead."
        decisions.append(_decision(page, "notation-hairpins", dropped[0], dropped[-1], reason))
    return [*steady, *pins], decisions


def _decision(page: Page, name: str, first: int, last: int, sentence: str) -> Decision:
    return Decision(
        id=name,
        kind="notation",
        bars=(page.bar(first).index, page.bar(last).index),
        sentence=sentence,
        onset=first,
        rule="marks.dynamics",
        setting="level.dynamics",
    )


def _dynamics(page: Page) -> tuple[list[DraftMark], list[tuple[int, str, str]]]:
    """Marks in draft ticks; and (tick, source's, ours) where the level has not the source's word."""
    by_part: dict[int, list[Mark]] = {}
    for mark in page.score.marks:
        if mark.kind == "dynamic" and mark.onset < page.end and set(mark.text) <= _LETTERS:
            by_part.setdefault(mark.part, []).append(mark)
    chosen, private = _chosen(page, by_part)
    out: list[DraftMark] = []
    clipped: list[tuple[int, str, str]] = []
    current = heard = ""
    closing = page.onsets[-1] if page.onsets and page.end < page.score.end else page.end
    for onset in sorted(chosen):
        if onset in private and heard and not _turns(chosen[onset], heard, private[onset]):
            continue
        text = known_word(chosen[onset], page.rules.level.dynamics)
        if text != chosen[onset]:
            clipped.append((onset, chosen[onset], text))
        plain = _AFTER_STRESS.get(chosen[onset], chosen[onset])
        heard = plain if plain in LOUDNESS else heard
        if not text or (text == current and text in LOUDNESS):
            continue
        sounding = page.sounding_from(onset, 2 * page.score.resolution)
        if sounding is None or (current and sounding >= closing and not _led_to(page, onset)):
            continue  # nothing is played any more, or only the last note of an excerpt: the mark is for what would follow
        current = _AFTER_STRESS.get(text, text) if text not in LOUDNESS else text
        tick = sounding - page.offset
        if out and out[-1].onset == tick:
            out.pop()
        out.append(DraftMark(kind="dynamic", onset=tick, end=tick, text=text))
    return out, clipped


def _chosen(page: Page, by_part: Mapping[int, Sequence[Mark]]) -> tuple[dict[int, str], dict[int, str]]:
    """By tick the tune's own marks, and elsewhere what most parts agree on; and those among them that are only the next player's.

    A player who takes the tune over brings its own loudness, written long before or for its own balance: that is no change of the music,
    so such a mark is private; an old one stands for what most of the players have there.  With a new one stands the same, "" otherwise.
    """
    share = page.rules.number("marks.dynamics.agree-share")
    chosen: dict[int, str] = {}
    private: dict[int, str] = {}
    spoken_for: list[tuple[int, int]] = []  # where the tune's own mark is in force
    for lead in page.leads:
        part = page.part_of(lead)
        own = by_part.get(part, []) if part is not None else []
        played = [page.score.note_by_id[name].onset for name in lead.notes]
        begin = next((onset for onset in played if onset >= page.start), max(lead.start, page.start))
        bar = page.bar(begin)
        before = [mark for mark in own if mark.onset <= begin]
        later = [mark for mark in own if begin < mark.onset < min(lead.end, page.end)]
        for mark in later:
            chosen[mark.onset] = mark.text
            private.pop(mark.onset, None)
        marked = [mark.onset for mark in later]
        if before and not (chosen and later and later[0].onset < begin + bar.length):
            fresh = before[-1].onset >= begin - bar.meter.beat_ticks(page.score.resolution)
            agreed = _agreed(page, by_part, begin, bar.length)
            if fresh or agreed or not chosen:
                chosen[begin] = before[-1].text if fresh or not chosen else agreed
                private[begin] = agreed if fresh else ""
            marked += [begin] if fresh else []
        if marked:
            spoken_for.append((min(marked), lead.end))
    inside = sorted((mark for marks in by_part.values() for mark in marks if mark.onset >= page.start), key=lambda mark: mark.onset)
    parts = len(by_part) or 1
    for onset, group in groupby(inside, key=lambda mark: mark.onset):
        texts = Counter(mark.text for mark in group)
        text, votes = max(texts.items(), key=lambda item: (item[1], item[0]))
        if any(first <= onset < last for first, last in spoken_for):
            continue
        near = any(abs(onset - known) < page.score.resolution for known in chosen)
        if not near and (votes >= share * parts or page.part_at(onset) is None):
            chosen[onset] = text
    opening = page.onsets[0] if page.onsets else page.start
    if not chosen or min(chosen) > opening:
        earlier = Counter(
            [mark for mark in marks if mark.onset <= page.start][-1].text
            for marks in by_part.values()
            if any(mark.onset <= page.start for mark in marks)
        )
        if earlier:
            chosen[opening] = earlier.most_common(1)[0][0]
        elif chosen:  # the page opens with a dynamic even where the tune's first player has none
            chosen[opening] = chosen[min(chosen)]
    return chosen, private


def _agreed(page: Page, by_part: Mapping[int, Sequence[Mark]], tick: int, window: int) -> str:
    """The loudness that the middle one of the players has who play on at a moment, or are marked there; "" where none has a mark.

    Who comes in without a mark, after resting for ``window`` ticks, is not asked: the mark is too old.
    """
    notes = page.score.notes
    before, at, after = (bisect_left(notes, place, key=lambda note: note.onset) for place in (tick - window, tick, tick + window))
    playing, held = ({note.part for note in found} for found in (notes[at:after], notes[before:at]))
    found = []
    for part in playing:
        plain = [mark for mark in by_part.get(part, ()) if mark.onset <= tick and _AFTER_STRESS.get(mark.text, mark.text) in LOUDNESS]
        if plain and (part in held or plain[-1].onset >= tick - window):
            found.append(LOUDNESS.index(_AFTER_STRESS.get(plain[-1].text, plain[-1].text)))
    return LOUDNESS[sorted(found)[len(found) // 2]] if found else ""


def _led_to(page: Page, tick: int) -> bool:
    """Whether a hairpin or a word for growing or fading, not long before, leads to a moment."""
    bar = page.bar(tick)
    signs = (mark for kind in ("hairpin", "text") for mark in page.marks(kind) if mark.onset < tick)
    return any(
        mark.end >= tick - bar.length if mark.kind == "hairpin" else GROWS.search(mark.text) and mark.onset >= tick - 4 * bar.length
        for mark in signs
    )


def _turns(text: str, heard: str, agreed: str) -> bool:
    """Whether the next player's mark changes the music: by two steps and more, or by one where most players are nearer to it now."""
    plain = _AFTER_STRESS.get(text, text)
    if plain not in LOUDNESS:
        return False
    new, old = LOUDNESS.index(plain), LOUDNESS.index(heard)
    if abs(new - old) > 1:
        return True
    return bool(agreed) and abs(LOUDNESS.index(agreed) - new) < abs(LOUDNESS.index(agreed) - old)


def known_word(text: str, vocabulary: tuple[str, ...]) -> str:
    """The level's word for a dynamic: itself, the nearest loudness, what follows a stress, or ``""`` where the level has none."""
    if text in vocabulary:
        return text
    plain = _AFTER_STRESS.get(text, text)
    if plain not in LOUDNESS:
        return ""
    place = LOUDNESS.index(plain)
    known = [LOUDNESS.index(word) for word in vocabulary if word in LOUDNESS]
    return LOUDNESS[min(known, key=lambda other: (abs(other - place), other))] if known else ""


def _hairpins(page: Page, dynamics: list[int]) -> tuple[list[DraftMark], list[int]]:
    """Hairpins in draft ticks, from note to note, none over another; and the source ticks of those that the level does not read."""
    beat = page.bars[0].meter.beat_ticks(page.score.resolution)
    least = int(page.rules.number("marks.dynamics.hairpin-beats-min") * beat)
    own: list[Mark] = []
    others: Counter[tuple[int, int, str]] = Counter()
    for mark in page.marks("hairpin"):
        if mark.end - mark.onset < least or mark.onset < page.start:
            continue
        if page.part_at(mark.onset) == mark.part:
            own.append(mark)
        else:
            others[(mark.onset, mark.end, mark.text)] += 1
    agreed = max(2, int(page.rules.number("marks.dynamics.agree-share") * len(page.score.parts)))
    spans = [(mark.onset, mark.end, mark.text) for mark in own]
    spans += [span for span, votes in sorted(others.items()) if votes >= agreed and not any(_share(span, (m.onset, m.end)) for m in own)]
    spans.sort()
    if not page.rules.level.hairpins:
        return [], [span[0] for span in spans]
    out: list[DraftMark] = []
    for onset, end, text in spans:
        first = page.struck_from(onset, beat) - page.offset
        last = min(page.struck_from(end, beat), page.end) - page.offset
        inner = [tick for tick in dynamics if first < tick < last]
        if inner:
            last = inner[0]
        if out and out[-1].end > first:
            out[-1] = replace(out[-1], end=first)
            if out[-1].end - out[-1].onset < least:
                out.pop()
        if last - first >= least:
            out.append(DraftMark(kind="hairpin", onset=first, end=last, text=text))
    return out, []


def _share(span: tuple[int, int, str], other: tuple[int, int]) -> bool:
    return span[0] < other[1] and other[0] < span[1]
