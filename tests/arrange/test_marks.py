"""One line of signs for the draft."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from reduce import pipeline
from reduce.arrange.marks import merge_marks
from reduce.arrange.marks_articulation import articulate
from reduce.arrange.marks_colour import colour
from reduce.arrange.marks_dynamics import LOUDNESS, known_word
from reduce.arrange.marks_pauses import held_to_the_end, pauses_of
from reduce.model.draft import DraftMark, DraftNote
from reduce.model.score import Mark, Score
from reduce.model.texture import Chord, Lead, Parallel, Phrase, Texture
from tests import tiny
from tests.arrange import lines

LEVELS = ("first-year", "late-beginner", "early-intermediate", "intermediate", "late-intermediate", "advanced")
PIECE = """
meter 4/4
Oboe   | c5:4 (mf dolce) d5 e5 f5 | g5:1 | a5:4 (ff) g5 f5 e5 | d5:2 r:2 |
Violin | e4:1 (pp)       | e4:1 (pp) | f4:1 (ff arco) | f4:1 |
Cello  | c3:1 (pp)       | c3:1 (pp) | d3:1 (ff)      | g2:1 |
"""


def draft(piece: Score, part: int = 0, left: int = 2) -> tuple[DraftNote, ...]:
    """The part in the right hand, another one in the left, note for note."""
    out = []
    for note in piece.notes:
        if note.part in (part, left) and note.kind == "struck":
            out.append(
                DraftNote(
                    id=f"n{len(out)}", hand="right" if note.part == part else "left", strand=1, onset=note.onset, duration=note.duration,
                    pitch=note.pitch, midi=note.midi, role="melody" if note.part == part else "bass", sources=(note.id,),
                    articulations=note.articulations, fermata=note.fermata,
                )
            )  # fmt: skip
    return tuple(out)


def marks(piece: Score, level: str, kind: str, texture: Texture | None = None) -> list[DraftMark]:
    found, _ = merge_marks(piece, texture or lines.texture(piece), draft(piece), lines.rules(level), piece.bars)
    return [mark for mark in found if mark.kind == kind]


def placed(piece: Score, found: list[DraftMark]) -> list[tuple[float, str]]:
    return [(mark.onset / piece.resolution, mark.text) for mark in found]


def with_marks(piece: Score, *added: Mark) -> Score:
    return replace(piece, marks=tuple(sorted((*piece.marks, *added), key=lambda mark: mark.onset)))


def mark(piece: Score, kind: str, bar: int, beat: float, last: float, text: str = "", part: int = 0, notes: tuple[str, ...] = ()) -> Mark:
    start = piece.bars[bar].start
    onset, end = start + int(beat * piece.resolution), start + int(last * piece.resolution)
    return Mark(kind=kind, part=part, staff=1, bar=bar, onset=onset, end=end, text=text, notes=notes)  # type: ignore[arg-type]


def test_the_tune_s_dynamic_wins_then_what_most_agree_on() -> None:
    """Oboe mf over strings pp: mf, and the strings' second pp changes nothing; without a mark of its own the tune takes the strings'."""
    piece = lines.score(PIECE)
    assert placed(piece, marks(piece, "advanced", "dynamic")) == [(0.0, "mf"), (8.0, "ff")]
    bare = lines.score(PIECE.replace("(mf dolce)", "(dolce)").replace("(ff)", "").replace("(ff arco)", "(f)"))
    assert placed(bare, marks(bare, "advanced", "dynamic")) == [(0.0, "pp"), (8.0, "f")]


TURNS = """
meter 4/4
Oboe   | c5:1        | r:1     | d5:1    | r:1         | e5:1    | f5:1    |
Violin | e4:1 (pp)   | g4:1    | f4:1    | g4:1        | f4:1    | e4:1    |
Cello  | c3:1 (pp)   | c3:1    | d3:1    | c3:1        | g2:1    | c3:1    |
"""


def by_turns(piece: Score) -> Texture:
    """Oboe and violin have the tune a bar each in turn; the oboe keeps the last two."""
    whole = lines.texture(piece)
    names = [tuple(note.id for note in piece.notes if note.part == part) for part in (0, 1)]
    taken = [names[0][:1], names[1][1:2], names[0][1:2], names[1][3:4], names[0][2:]]
    starts = [bar.start for bar in piece.bars[:5]] + [piece.end]
    leads = [Lead(start=a, end=b, stream=i % 2, notes=n) for i, (a, b, n) in enumerate(zip(starts, starts[1:], taken, strict=False))]
    return replace(whole, tune=tuple(leads))


def test_the_loudness_does_not_change_with_the_player() -> None:
    """Law: who takes the tune over brings no mark of long ago, nor one of a single step that the others do not follow; two steps count.

    Common practice: p for a solo over strings pp is balance, not a change of the music.
    """
    piece = lines.score(TURNS)

    def turned(*added: Mark) -> list[tuple[float, str]]:
        return placed(piece, marks(with_marks(piece, *added), "advanced", "dynamic", by_turns(piece)))

    solo = mark(piece, "dynamic", 2, 0, 0, "p")
    assert turned() == [(0.0, "pp")]
    assert turned(solo) == [(0.0, "pp")]
    assert turned(replace(solo, text="mf")) == [(0.0, "pp"), (8.0, "mf"), (12.0, "pp")]
    both = [replace(solo, part=part) for part in (0, 1, 2)]
    assert turned(*both) == [(0.0, "pp"), (8.0, "p")]


def test_a_dynamic_at_the_last_note_of_an_excerpt_is_for_what_follows() -> None:
    """Law: it goes, unless a hairpin or a word leads to it, or the piece itself ends there."""
    piece = lines.score(PIECE)
    loud = mark(piece, "dynamic", 2, 0, 0, "ff")
    grows = mark(piece, "hairpin", 1, 0, 4, "crescendo")

    def ends(signed: Score, bars: int) -> list[str]:
        kept = signed.bars[:bars]
        notes = [note for note in draft(signed) if note.onset <= signed.bars[2].start]
        found, _ = merge_marks(signed, lines.texture(signed), notes, lines.rules("advanced"), kept)
        return [one.text for one in found if one.kind == "dynamic"]

    signed = with_marks(piece, loud)
    assert ends(signed, 3) == ["mf"]
    assert ends(with_marks(signed, grows), 3) == ["mf", "ff"]
    assert ends(signed, 4) == ["mf", "ff"]


def test_brackets_are_no_dynamics() -> None:
    """Law: a mark in an editor's brackets is read as the mark."""
    piece = lines.score(PIECE.replace("(mf dolce)", ""))
    signs = [mark(piece, "dynamic", 0, 0, 0, text) for text in ("[", "p", "]")]
    assert placed(piece, marks(with_marks(piece, *signs), "advanced", "dynamic")) == [(0.0, "p"), (8.0, "ff")]


def test_dynamics_are_brought_to_the_level_s_words() -> None:
    """First year: p, mp, mf, f (method books); the log says so."""
    piece = lines.score(PIECE)
    assert placed(piece, marks(piece, "first-year", "dynamic")) == [(0.0, "mf"), (8.0, "f")]
    _, decisions = merge_marks(piece, lines.texture(piece), draft(piece), lines.rules("first-year"), piece.bars)
    assert "Bar 3: dynamics brought to the level's words (ff to f)." in [one.sentence for one in decisions]


@pytest.mark.parametrize("level", LEVELS)
def test_every_dynamic_is_known_to_the_level(level: str) -> None:
    """Law: no dynamic outside the level's vocabulary, and a louder mark never becomes softer than a softer one."""
    vocabulary = lines.rules(level).level.dynamics
    out = [known_word(text, vocabulary) for text in LOUDNESS]
    assert set(out) <= set(vocabulary)
    assert [LOUDNESS.index(text) for text in out] == sorted(LOUDNESS.index(text) for text in out)
    assert known_word("fp", ("p", "f")) == "p"
    assert known_word("sfz", ("p", "f")) == ""


def test_hairpins_by_level() -> None:
    """From late beginner on; from note to note."""
    piece = lines.score(PIECE)
    piece = with_marks(piece, mark(piece, "hairpin", 0, 0, 4, "crescendo"))
    assert [(one.onset, one.end, one.text) for one in marks(piece, "late-beginner", "hairpin")] == [(0, 4 * piece.resolution, "crescendo")]
    assert marks(piece, "first-year", "hairpin") == []


def test_hairpins_of_others_need_agreement() -> None:
    piece = lines.score(PIECE)
    alone = with_marks(piece, mark(piece, "hairpin", 2, 0, 4, "diminuendo", part=2))
    assert marks(alone, "advanced", "hairpin") == []
    both = with_marks(alone, mark(piece, "hairpin", 2, 0, 4, "diminuendo", part=1))
    assert len(marks(both, "advanced", "hairpin")) == 1


def test_bows_become_phrases_for_beginners() -> None:
    """Two bows in a row become one slur; it does not pass the rest, the phrase's end, nor stand over one note."""
    piece = lines.score(PIECE)
    by_bar = {bar: [note.id for note in piece.notes if note.part == 0 and note.bar == bar] for bar in range(4)}
    piece = with_marks(
        piece,
        mark(piece, "slur", 0, 0, 1, notes=(by_bar[0][0], by_bar[0][1])),
        mark(piece, "slur", 0, 2, 3, notes=(by_bar[0][2], by_bar[0][3])),
        mark(piece, "slur", 2, 0, 8, notes=(by_bar[2][0], by_bar[3][0])),
    )
    names = {note.sources[0]: note.id for note in draft(piece)}
    easy = marks(piece, "first-year", "slur")
    assert [one.notes for one in easy] == [
        (names[by_bar[0][0]], names[by_bar[0][3]]),
        (names[by_bar[2][0]], names[by_bar[3][0]]),
    ]
    assert [one.notes for one in marks(piece, "advanced", "slur")][:2] == [
        (names[by_bar[0][0]], names[by_bar[0][1]]),
        (names[by_bar[0][2]], names[by_bar[0][3]]),
    ]
    phrases = (Phrase(start=0, end=piece.bars[2].end), Phrase(start=piece.bars[3].start, end=piece.end))
    parted = replace(lines.texture(piece), phrases=phrases)
    assert marks(piece, "first-year", "slur", parted)[1].notes == (names[by_bar[2][0]], names[by_bar[2][3]])


@pytest.mark.parametrize("level", LEVELS)
def test_no_slur_over_a_rest(level: str) -> None:
    """Law: the notes under a slur follow one another without silence."""
    piece = lines.score("meter 4/4\nOboe | c5:4 r:4 e5 f5 | g5:4 a5 r:4 c6 |\nViolin | e4:1 | e4:1 |\nCello | c3:1 | c3:1 |")
    ids = [note.id for note in piece.notes if note.part == 0]
    piece = with_marks(piece, mark(piece, "slur", 0, 0, 8, notes=(ids[0], ids[-1])))
    notes = {note.id: note for note in draft(piece)}
    for slur in marks(piece, level, "slur"):
        under = sorted((n for n in notes.values() if n.hand == "right" and slur.onset <= n.onset < slur.end), key=lambda n: n.onset)
        assert len(under) > 1
        assert [one.end for one in under[:-1]] == [two.onset for two in under[1:]]


def test_words_for_a_pianist() -> None:
    """dolce stays, arco goes."""
    piece = lines.score(PIECE)
    assert (0.0, "dolce") in placed(piece, marks(piece, "advanced", "text"))
    assert [text for _, text in placed(piece, marks(piece, "advanced", "text")) if "arco" in text] == []


def test_instruments_are_named_where_the_level_prints_them() -> None:
    """Law: who begins a phrase with one note, before another goes on, is not named."""
    piece = lines.score(PIECE)
    base = lines.texture(piece)
    half = piece.bars[2].start
    tune = (Lead(start=0, end=half, stream=0, notes=base.tune[0].notes[:5]), Lead(start=half, end=piece.end, stream=1, notes=()))
    within = replace(base, tune=tune, phrases=(Phrase(start=0, end=piece.end),))
    texture = replace(within, phrases=(Phrase(start=0, end=half), Phrase(start=half, end=piece.end)))
    assert placed(piece, marks(piece, "early-intermediate", "instrument", texture)) == [(0.0, "Ob."), (8.0, "Vln.")]
    assert placed(piece, marks(piece, "early-intermediate", "instrument", within)) == [(0.0, "Ob.")]
    assert marks(piece, "first-year", "instrument", texture) == []
    beat = piece.resolution
    once = (Lead(start=0, end=beat, stream=1, notes=()), Lead(start=beat, end=piece.end, stream=0, notes=base.tune[0].notes[1:]))
    assert placed(piece, marks(piece, "early-intermediate", "instrument", replace(within, tune=once))) == [(1.0, "Ob.")]


def test_pedal_changes_with_the_harmony_and_stays_off_staccato() -> None:
    """One pedal a harmony at intermediate, none at the easy levels, none where anything is staccato."""
    piece = lines.score(
        "meter 4/4\nOboe | c5:2 e5 | d5:2 b4 | c5:4 (staccato) e5 g5 c6 | c6:1 |\n"
        "Violin | e4:1 | f4:1 | e4:1 | e4:1 |\nCello | c3:1 | g2:1 | c3:1 | c3:1 |"
    )
    sizes = [bar.start for bar in piece.bars] + [piece.end]
    tones = ((0, 4, 7), (7, 11, 2), (0, 4, 7), (5, 9, 0))
    chords = tuple(
        Chord(start=a, end=b, root=t[0], quality="major", bass=t[0], tones=t) for (a, b), t in zip(pairwise(sizes), tones, strict=True)
    )
    texture = replace(lines.texture(piece), chords=chords)
    got = {level: [(one.onset, one.end) for one in marks(piece, level, "pedal", texture)] for level in LEVELS}
    assert got["first-year"] == got["late-beginner"] == []
    assert got["intermediate"] == [(sizes[0], sizes[1]), (sizes[1], sizes[2]), (sizes[3], sizes[4])]


def test_a_long_pause_is_kept_once() -> None:
    """Fermatas in several parts make one; a note that carries its own needs no second sign."""
    piece = lines.score("meter 4/4\nOboe | c5:1 |\nViolin | e4:1 (fermata) |\nCello | c3:1 (fermata) |")
    found = marks(piece, "first-year", "fermata")
    assert len(found) == 0 or [one.onset for one in found] == [0]
    assert len(found) + sum(note.fermata for note in draft(piece)) >= 1


def test_players_who_hold_longer_come_to_the_same_pause() -> None:
    """A part that has held its note for bars has the sign on the last of its tied notes (Gould, Behind Bars, from memory): one pause, at
    the end, on what each hand has there; a hand that no longer holds its note loses the sign, and rests under it."""
    text = "meter 4/4\nOboe | c5:1~ | c5:1 (fermata) |\nHorn | r:1 | r:2 e4:2 (fermata) |\nCello | c3:4 g3 c3 g3 | c3:4 g3 c3 g3 |"
    piece = lines.score(text)
    assert [(p.start, p.end) for p in pauses_of(piece, piece.bars)] == [(6 * piece.resolution, 8 * piece.resolution)]
    assert [(one.onset / piece.resolution, one.hand) for one in marks(piece, "intermediate", "fermata")] == [(7.0, "left")]
    short = tuple(replace(note, duration=note.duration // 4) if note.fermata else note for note in draft(piece))
    assert [note.fermata for note in held_to_the_end(draft(piece), piece, piece.bars) if note.hand == "right"] == [True]
    assert not any(note.fermata for note in held_to_the_end(short, piece, piece.bars))


def test_rehearsal_letters_stand_once() -> None:
    piece = lines.score(PIECE)
    piece = with_marks(piece, *(mark(piece, "rehearsal", 2, 0, 0, "A", part=part) for part in range(3)))
    assert placed(piece, marks(piece, "first-year", "rehearsal")) == [(8.0, "A")]


@pytest.mark.parametrize("level", LEVELS)
def test_signs_of_a_cut_stay_inside_it(level: str) -> None:
    """Law: with bars cut away, every sign lies inside the draft, and spans begin before they end."""
    piece = lines.score(PIECE)
    piece = with_marks(piece, mark(piece, "hairpin", 0, 0, 12, "crescendo"), mark(piece, "hairpin", 2, 0, 8, "diminuendo"))
    bars = piece.bars[1:3]
    notes = tuple(replace(note, onset=note.onset - bars[0].start) for note in draft(piece) if bars[0].start <= note.onset < bars[-1].end)
    found, _ = merge_marks(piece, lines.texture(piece), notes, lines.rules(level), bars)
    assert found
    assert [one for one in found if not 0 <= one.onset <= one.end <= bars[-1].end - bars[0].start] == []
    assert [one.text for one in found if one.kind == "dynamic" and one.onset == 0] != []


def test_articulation_of_the_level() -> None:
    """First year reads staccato only; a strong accent is an accent where the level has no stronger one."""
    piece = lines.score("meter 4/4\nOboe | c5:4 (staccato) d5 (accent) e5 (strong-accent) f5 (tenuto) |")
    got = {}
    for level in ("first-year", "late-beginner"):
        tones, decisions = articulate(lines.line(piece), piece.bars, lines.rules(level))
        got[level] = [tone.articulations for tone in tones]
        assert len(decisions) == (level == "first-year")
    assert got["first-year"] == [("staccato",), (), (), ()]
    assert got["late-beginner"] == [("staccato",), ("accent",), ("accent",), ("tenuto",)]


def test_parallel_places_are_articulated_alike() -> None:
    """Two places of three have the dot: the third gets it; one of three: it goes."""
    bar, dry = "c5:4 (staccato) d5 e5:2", "c5:4 d5 e5:2"
    for rows, expected in (((bar, dry, bar), ("staccato",)), ((bar, dry, dry), ())):
        piece = lines.score("meter 4/4\nOboe | " + " | ".join(rows) + " |")
        size = piece.bars[0].length
        parallels = (Parallel(first=0, second=size, length=size), Parallel(first=0, second=2 * size, length=size))
        tones, _ = articulate(lines.line(piece), piece.bars, lines.rules("late-intermediate"), parallels)
        assert [tone.articulations for tone in tones[::3]] == [expected] * 3


def test_the_drum_s_entrance_is_an_event() -> None:
    """The first stroke after silence is told, the roll that goes on is not (teaching course: do not ignore timpani)."""
    piece = lines.score("meter 4/4\nOboe | c5:1 | c5:1 | c5:1 | c5:1 | c5:1 |\nTimpani | r:1 | r:1 | r:1 | c3:4 c3 c3 c3 | c3:4 c3 c3 c3 |")
    events, decisions = colour(piece, lines.rules("intermediate"), piece.bars)
    assert [(event.onset, event.kind, event.midi) for event in events] == [(piece.bars[3].start, "drum", 48)]
    assert [one.sentence for one in decisions] == ["Bar 4: the drum's entrance is kept as an accent, because listeners wait for it."]


def test_no_dynamic_stands_on_a_rest() -> None:
    """Law: a dynamic in a rest of the draft moves to the next note; where nothing is played any more it goes."""
    piece = lines.score("meter 4/4\nOboe | c5:4 d5 r:2 | r:1 | e5:2 f5 | g5:2 r:2 |\nCello | c3:4 d3 r:2 | r:1 | c3:1 | c3:2 r:2 |\n")
    signed = with_marks(
        piece, mark(piece, "dynamic", 0, 0, 0, "p"), mark(piece, "dynamic", 0, 2, 2, "f"), mark(piece, "dynamic", 3, 2, 2, "mf")
    )
    found, _ = merge_marks(signed, lines.texture(signed), draft(signed, left=1), lines.rules("first-year"), signed.bars)
    assert [(0.0, "p"), (8.0, "f")] == placed(signed, [one for one in found if one.kind == "dynamic"])
    held = lines.score("meter 4/4\nOboe | c5:4 d5 e5:2 | f5:2 r:2 |\nCello | c3:1 | f3:1 |\n")
    signed = with_marks(held, mark(held, "dynamic", 0, 0, 0, "p"), mark(held, "dynamic", 1, 2, 2, "mf"))
    found, _ = merge_marks(signed, lines.texture(signed), draft(signed, left=1), lines.rules("first-year"), signed.bars)
    assert [(0.0, "p")] == placed(signed, [one for one in found if one.kind == "dynamic"])


def test_a_word_at_the_last_note_of_an_excerpt_is_left_to_what_follows(tmp_path: Path) -> None:
    """Law: dolce over the closing note is meant for the next theme, unless the piece ends there."""
    tune = "Oboe | c5:4 d5 e5 f5 | g5:4 f5 e5 d5 | c5:1 (dolce) | e5:4 f5 g5 a5 | c5:1 |"
    source = tmp_path / "word.musicxml"
    source.write_bytes(tiny.musicxml(f"meter 4/4\nkey C major\n{tune}\nCello | c3:1 | g2:1 | c3:1 | f3:1 | c3:1 |"))
    drafts = {bars: pipeline.draft(source, level="advanced", bars=bars).draft for bars in ("1-3", "1-4")}
    assert {"1-3": False, "1-4": True} == {bars: any(mark.text == "dolce" for mark in draft.marks) for bars, draft in drafts.items()}


def test_a_crescendo_in_the_last_bar_of_an_excerpt_leads_nowhere(tmp_path: Path) -> None:
    """Law: "cresc." over the closing bar is meant for the bars that follow, unless they are played or the piece ends there."""
    source = tmp_path / "grows.musicxml"
    tune = "Oboe | c5:4 d5 e5 f5 | g5:4 (cresc.) f5 e5 d5 | c5:1 | e5:4 f5 g5 a5 | c5:4 (dim.) d5 c5:2 |"
    source.write_bytes(tiny.musicxml(f"meter 4/4\nkey C major\n{tune}\nCello | c3:1 | g2:1 | c3:1 | f3:1 | c3:1 |"))
    for bars, kept in (("1-2", []), ("1-3", ["cresc."]), ("4-5", ["dim."])):
        draft = pipeline.draft(source, level="advanced", bars=bars).draft
        assert [mark.text for mark in draft.marks if mark.text in ("cresc.", "dim.")] == kept
