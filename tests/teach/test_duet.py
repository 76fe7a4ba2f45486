"""The teacher's part of a duet: playable, out of the pupil's way, and close to the orchestra together with the pupil."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from lxml import etree

from reduce import packing, rulebook
from reduce.hands.check import check
from reduce.model.record import replace
from reduce.notate.ensemble import Stave, ensemble
from reduce.teach import Lesson
from reduce.teach.duet import Duet, shares
from tests.teach.material import FERRY, WALTZ, WISHES, draft_folder, packed

PIECES = [(score, level) for score in (WALTZ, FERRY) for level in ("first-year", "late-beginner", "intermediate")]
HARDEST = rulebook.load(rulebook.levels()[-1].name)


@cache
def lesson(score: Path, level: str) -> Lesson:
    return packing.lesson_in(draft_folder(Path(mkdtemp()) / "draft", score, level, key="auto"), WISHES)


def duet(score: Path, level: str) -> Duet:
    found = lesson(score, level).duet
    assert found is not None
    return found


def together(pupil: Lesson, other: Duet) -> list[tuple[int, list[int]]]:
    """Each key of the teacher with the keys that the pupil holds meanwhile."""
    scale, draft = other.part.resolution, pupil.draft
    held = [(n.onset * scale, n.end * scale, n.midi + 12 * other.seat.octaves) for n in draft.notes if not n.grace]
    found = []
    for note in other.part.notes:
        start, end = note.onset * draft.resolution, max(note.end, note.onset + 1) * draft.resolution
        found.append((note.midi, [key for begin, stop, key in held if begin < end and stop > start]))
    return found


@pytest.mark.parametrize(("score", "level"), PIECES)
def test_no_key_is_shared(score: Path, level: str) -> None:
    """Law: at no moment do pupil and teacher hold one key; at one piano the teacher stays below the pupil."""
    other = duet(score, level)
    assert other.part.notes
    for key, keys in together(lesson(score, level), other):
        assert key not in keys
        assert other.seat.pianos == 2 or all(key < taken for taken in keys)


@pytest.mark.parametrize(("score", "level"), PIECES)
def test_the_teacher_can_play_it(score: Path, level: str) -> None:
    """The check finds nothing that a teacher's hands cannot do."""
    report = check(duet(score, level).part, HARDEST.level, HARDEST)
    assert report.playable
    assert [] == [
        breach.sentence for breach in report.hard if breach.what in ("reach", "speed", "speed-together", "clash", "span", "crowd")
    ]


@pytest.mark.parametrize(("score", "level"), PIECES)
def test_same_bars_key_and_tempo(score: Path, level: str) -> None:
    """The two parts can be played together."""
    mine, other = lesson(score, level).draft, duet(score, level).part
    assert [(bar.number, bar.meter, bar.key.fifths) for bar in mine.bars] == [(bar.number, bar.meter, bar.key.fifths) for bar in other.bars]
    assert mine.tempos[0].quarters == other.tempos[0].quarters
    assert mine.end * other.resolution == other.end * mine.resolution


@pytest.mark.parametrize(("score", "level"), PIECES)
def test_both_are_close_to_the_orchestra(score: Path, level: str) -> None:
    """On an average beat nine of ten pitch classes of the score are heard, and more than the pupil plays alone."""
    other = duet(score, level)
    assert (other.alone, other.both) == shares(lesson(score, level), other.part)
    assert 0.9 <= other.both
    assert other.both - other.alone >= 0.03


def test_nothing_left_to_add() -> None:
    """A draft that plays nearly all there is gets no duet."""
    assert lesson(FERRY, "advanced").duet is None


def test_shares_by_hand() -> None:
    """Without the pupil's notes nothing is heard alone; a part that is the orchestra itself is heard whole."""
    piece = lesson(WALTZ, "first-year")
    assert piece.source is not None and piece.duet is not None
    silent = replace(piece, draft=replace(piece.draft, notes=()))
    alone, both = shares(silent, replace(piece.duet.part, notes=piece.draft.notes))
    assert 0 == alone
    assert 0 < both < 1


def test_the_file_reads_back() -> None:
    """Another library finds two players with the notes of both parts (music21 as second reader)."""
    import music21

    files = packed(FERRY, "first-year")
    score = music21.converter.parse(files["duet.musicxml"], format="musicxml")
    names = [part.partName for part in score.parts]
    assert {"Pupil", "Teacher"} == set(names)
    made = packing.lesson_in(draft_folder(Path(mkdtemp()) / "draft", FERRY, "first-year"), WISHES)
    assert made.duet is not None
    wanted = sorted(note.midi for note in made.duet.part.notes)
    heard = []
    for part in score.parts:
        if part.partName == "Teacher":
            stripped = part.stripTies()
            heard += [pitch.midi for note in stripped.recurse().notes if not note.duration.isGrace for pitch in note.pitches]
    assert wanted == sorted(heard)


def test_the_pupils_staves_are_small() -> None:
    """The teacher follows the pupil on smaller staves; tempo marks stand once."""
    root = etree.fromstring(packed(FERRY, "first-year")["duet.musicxml"])
    assert [["75", "75"], []] == [part.xpath(".//staff-size/text()") for part in root.iter("part")]
    assert [1, 0] == [len(part.findall(".//metronome")) for part in root.iter("part")]
    ids = root.xpath("//note/@id")
    assert len(ids) == len(set(ids))


def test_players_need_the_same_bars() -> None:
    """Files with other bars are refused."""
    one, other = (packed(WALTZ, "first-year")["duet.musicxml"], packed(FERRY, "first-year")["duet.musicxml"])
    with pytest.raises(ValueError, match="cannot play together"):
        ensemble([Stave(name="A", short="A", musicxml=one), Stave(name="B", short="B", musicxml=other)])


def test_the_bass_goes_on_under_the_pupils() -> None:
    """At two pianos the teacher's left hand has no holes where the pupil has the bass: in seven beats of eight it plays.

    A second piano doubles the bass an octave below (common practice).
    """
    other = duet(FERRY, "intermediate")
    assert other.seat.pianos == 2
    part = other.part
    beats = [
        (start, start + bar.meter.beat_ticks(part.resolution))
        for bar in part.bars
        for start in range(bar.start, bar.end, bar.meter.beat_ticks(part.resolution))
    ]
    played = [beat for beat in beats if any(n.hand == "left" and n.onset < beat[1] and n.end > beat[0] for n in part.notes)]
    assert 8 * len(played) > 7 * len(beats)
