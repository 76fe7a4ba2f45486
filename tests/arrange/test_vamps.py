"""An accompaniment that begins alone is no tune (common practice: a vamp)."""

from __future__ import annotations

from dataclasses import replace

from reduce.arrange.length import choose_length
from reduce.arrange.vamps import tune_enters, without_vamp
from reduce.model.score import Score
from reduce.model.texture import Lead, Phrase, Texture
from tests.arrange import lines


def song(entry: str) -> tuple[Score, Texture]:
    """The viola alone for a bar, which the tune's first player had; then the violin, with ``entry`` as its bar."""
    piece = lines.score(
        f"""
        Violin 1 | r:1                    | {entry}                | c5:1                   |
        Viola    | c4:8 e4 c4 e4 c4 e4 c4 e4 | c4:8 e4 c4 e4 c4 e4 c4 e4 | c4:8 e4 c4 e4 c4 e4 c4 e4 |
        """
    )
    bar = piece.bars[1].start
    alone = tuple(note.id for note in piece.notes if note.part == 1 and note.onset < bar)
    sung = tuple(note.id for note in piece.notes if note.part == 0)
    leads = (Lead(start=0, end=bar, stream=1, notes=alone), Lead(start=bar, end=piece.end, stream=0, notes=sung))
    return piece, replace(lines.texture(piece, phrases=((0, 1), (2, 2))), tune=leads)


def test_the_tune_enters_over_its_figure() -> None:
    """Law: where the first player goes on with its figure under a new line, tune and phrase begin with that."""
    piece, heard = song("g5:2 e5:2")
    at = piece.bars[1].start
    assert tune_enters(piece, heard) == at
    assert without_vamp(heard.phrases, piece, heard) == [Phrase(start=at, end=2 * at), heard.phrases[1]]


def test_a_doubled_figure_is_not_left_behind() -> None:
    """Law: what joins in the same rhythm, or follows after the first player has stopped, brings no tune over a figure."""
    assert tune_enters(*song("g5:8 e5 g5 e5 g5 e5 g5 e5")) == 0
    piece, heard = song("g5:2 e5:2")
    bar = piece.bars[1]
    stopped = replace(piece, notes=tuple(note for note in piece.notes if note.part == 0 or note.onset < bar.start))
    assert tune_enters(stopped, heard) == 0


def test_the_reason_says_where_the_tune_enters() -> None:
    """Law: an excerpt that leaves the accompaniment alone out says so."""
    figure = "c4:8 e4 c4 e4 c4 e4 c4 e4 | "
    piece = lines.score(f"Violin 1 | r:1 | {'g5:2 e5:2 | ' * 39}\nViola | {figure * 40}")
    bar = piece.bars[1].start
    parts = [tuple(n.id for n in piece.notes if n.part == part and (part == 0 or n.onset < bar)) for part in (0, 1)]
    leads = (Lead(start=0, end=bar, stream=1, notes=parts[1]), Lead(start=bar, end=piece.end, stream=0, notes=parts[0]))
    heard = replace(lines.texture(piece, phrases=((0, 8), (9, 39))), tune=leads)
    first, last, (told,) = choose_length(piece, heard, lines.rules("first-year"), None)
    assert first == 1
    assert f"Bars 2–{last + 1} of 40 are proposed, because they state the theme from where it enters over its acc" in told.sentence
