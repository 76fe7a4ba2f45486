"""Names of the notes of transposing parts."""

from __future__ import annotations

from pathlib import Path

from tests.read.markup import document, n, read, start, transpose


def names(folder: Path, *parts: tuple[str, list[str]]) -> list[list[str]]:
    score = read(folder, document(*parts))
    return [[str(note.pitch) for note in score.notes if note.part == part.index] for part in score.parts]


def test_a_horn_calls_its_notes_as_the_others_do(tmp_path: Path) -> None:
    """A horn in B that reads E under four flats sounds E flat, not D sharp (common practice: its part avoids the remote key)."""
    flats = start(1, "4/4", -4)
    horn = start(1, "4/4", None, transpose(-1, -1))
    assert names(tmp_path, ("Violin", [flats + n("eb5 4")]), ("Horn in B", [horn + n("e4 4")])) == [["E♭5"], ["E♭4"]]


def test_far_names_come_near_the_key_where_nobody_else_plays(tmp_path: Path) -> None:
    """Under five sharps a lone clarinet in B flat that reads A flat plays F sharp; the notes of its own key stay."""
    sharps = start(1, "4/4", 5)
    clarinet = start(1, "4/4", None, transpose(-1, -2))
    found = names(tmp_path, ("Cello", [sharps + n("b2 4")]), ("Clarinet", [clarinet + n("ab4 2") + n("c#5 2")]))
    assert found == [["B2"], ["F♯4", "B4"]]


def test_two_names_in_one_bar_stay(tmp_path: Path) -> None:
    """Where the other parts use both names in one bar nothing is decided for the transposing one, unless its name is far from the key."""
    plain = start(1, "4/4", 0)
    clarinet = start(1, "4/4", 2, transpose(-1, -2))
    found = names(tmp_path, ("Violin", [plain + n("g#4 2") + n("ab4 2")]), ("Clarinet", [clarinet + n("bb4 4")]))
    assert found == [["G♯4", "A♭4"], ["A♭4"]]


def test_parts_that_do_not_transpose_keep_their_names(tmp_path: Path) -> None:
    """Octave transposition and concert parts: spelled as written, however strange."""
    plain = start(1, "4/4", 0)
    bass = start(1, "4/4", 0, transpose(0, 0, -1))
    assert names(tmp_path, ("Violin", [plain + n("c#5 4")]), ("Contrabass", [bass + n("db3 4")])) == [["C♯5"], ["D♭2"]]
