"""Where a run that leads into a phrase lands."""

from __future__ import annotations

from reduce.arrange.landing import runs_apart
from tests.arrange import lines

ENTER = "Viola  | r:1 | r:1 | c4:2 e4 | f4:2 g4 |\nCello  | r:1 | r:1 | c3:1 | f3:2 g3 |\n"
RUN = "Violin | c5:1 | c5:8 d5 e5 f5 g5 f5 e5 d5 | c5:2 e5 | d5:1 |\n"


def _bounds(text: str, *phrases: tuple[int, int]) -> list[tuple[float, float]]:
    piece = lines.score("meter 4/4\nkey C major\n" + text)
    heard = lines.texture(piece, phrases=phrases)
    found = runs_apart(heard.phrases, piece, heard, 8)
    return [(phrase.start / piece.resolution, phrase.end / piece.resolution) for phrase in found]


def test_a_run_that_lands_where_others_enter_stands_apart() -> None:
    """Law: the phrases still cover the piece without gaps."""
    assert [(0, 4), (4, 8), (8, 16)] == _bounds(RUN + ENTER, (0, 0), (1, 3))


def test_without_other_players_the_run_belongs_to_its_phrase() -> None:
    assert [(0, 4), (4, 16)] == _bounds(RUN, (0, 0), (1, 3))


def test_a_run_longer_than_what_follows_is_the_phrase_itself() -> None:
    long = "Violin | c5:1 | c5:8 d5 e5 f5 g5 f5 e5 d5 | c5:8 d5 e5 f5 g5 f5 e5 d5 | c5:1 |\n"
    assert [(0, 4), (4, 16)] == _bounds(long + ENTER.replace("| r:1 | r:1 | c", "| r:1 | r:1 | r:1 | c", 1), (0, 0), (1, 3))


def test_fewer_notes_are_no_run() -> None:
    short = "Violin | c5:1 | r:2 c5:8 d5 e5 f5 | c5:2 e5 | d5:1 |\n"
    assert [(0, 4), (4, 16)] == _bounds(short + ENTER, (0, 0), (1, 3))
