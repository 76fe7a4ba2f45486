"""Words, letters and names: character words of the tune, rehearsal letters, the instrument at each entry."""

from __future__ import annotations

import re
from bisect import bisect_left

from reduce.arrange.marks_place import Page
from reduce.model.draft import DraftMark

_AGAIN = 16  # bars after which a word may be said again
GROWS = re.compile(r"(?i)\b(de)?cresc|\bdim")


def words(page: Page) -> list[DraftMark]:
    """Character words of the part that has the tune, once each; words of colour where the level prints instruments.

    A word at the last note of an excerpt belongs to what would follow, one for growing or fading already in its last bar.
    """
    wanted = page.rules.words("marks.words.character")
    if page.rules.level.instrument_names:
        wanted += page.rules.words("marks.words.colour")
    out: list[DraftMark] = []
    cut = page.end < page.score.end
    closing = max((note.onset for note in page.notes if note.role == "melody"), default=0) + page.offset
    said: dict[str, int] = {}
    for mark in page.marks("text"):
        text = re.sub(r"\s+", " ", mark.text).strip()
        plain = text.lower()
        if not text or len(text) > 40 or mark.onset < page.start or page.part_at(mark.onset) != mark.part:
            continue
        if not any(word in plain for word in wanted):
            continue
        if plain in said and mark.onset - said[plain] < _AGAIN * page.bar(mark.onset).length:
            continue
        sounding = page.sounding_from(mark.onset, page.score.resolution)
        if sounding is None or (cut and sounding >= (page.bar(closing).start if GROWS.search(plain) else closing)):
            continue
        said[plain] = mark.onset
        tick = sounding - page.offset
        out.append(DraftMark(kind="text", onset=tick, end=max(tick, mark.end - page.offset), text=text, hand="right"))
    return out


def bends(page: Page) -> list[DraftMark]:
    """Words that bend the tempo (rit., stringendo, a tempo) once each; those that set a new tempo stand in the draft's tempos."""
    set_there = {(tempo.onset, tempo.text) for tempo in page.score.tempos}
    found: dict[tuple[int, str], DraftMark] = {}
    for mark in page.marks("tempo-text"):
        text = re.sub(r"\s+", " ", mark.text).strip()
        if not text or mark.onset < page.start or (mark.onset, mark.text) in set_there:
            continue
        tick = mark.onset - page.offset
        found.setdefault((tick, text.lower()), DraftMark(kind="text", onset=tick, end=tick, text=text, hand="right"))
    return list(found.values())


def rehearsal_letters(page: Page) -> list[DraftMark]:
    """Each rehearsal letter once, at its bar line."""
    found: dict[int, str] = {}
    for mark in page.marks("rehearsal"):
        if mark.onset >= page.start and mark.text:
            found.setdefault(mark.onset - page.offset, mark.text)
    return [DraftMark(kind="rehearsal", onset=tick, end=tick, text=text) for tick, text in sorted(found.items())]


def entries(page: Page) -> list[DraftMark]:
    """The short name of the instrument where it takes the tune, from the levels that print names.

    Who helps out in the middle of a phrase for less than ``least-bars`` is not named, nor who gives one note before another goes on, nor
    whose notes are not in the draft.
    """
    if not page.rules.level.instrument_names:
        return []
    apart = page.rules.whole("marks.instruments.bars-apart")
    least = page.rules.number("marks.instruments.least-bars")
    names = {stream.id: stream for stream in page.texture.streams}
    sung = sorted((note.onset + page.offset, note.end + page.offset) for note in page.notes if note.role == "melody" and not note.grace)
    joints = {phrase.start for phrase in page.texture.phrases}
    out: list[DraftMark] = []
    last_name, last_bar, alone = "", -apart - 1, False
    for lead in page.leads:
        stream = names.get(lead.stream)
        if stream is None:
            continue
        part = page.score.parts[stream.part]
        name = part.short or part.name
        onset = max(lead.start, page.start)
        bar = page.bar(onset).index
        if not name or name == last_name or bar - last_bar < apart:
            continue
        at = bisect_left(sung, (onset, 0))
        begins = alone or onset in joints or at == 0 or sung[at - 1][1] < onset
        brief = lead.end - lead.start < least * page.bar(onset).length
        alone = begins and brief and at + 1 < len(sung) and sung[at + 1][0] >= lead.end == sung[at][1]
        if at == len(sung) or sung[at][0] >= lead.end or alone or (brief and not begins):
            continue
        last_name, last_bar = name, bar
        tick = page.struck_from(onset, page.score.resolution) - page.offset
        out.append(DraftMark(kind="instrument", onset=tick, end=tick, text=name, hand="right"))
    return out
