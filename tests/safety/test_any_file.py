"""Any file: a draft, or one sentence; whatever comes, in every step from the file to the folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from reduce.cli import run
from tests.safety.families import broken, foreign, written

LEVELS = ("first-year", "advanced")
WHOLE = {"condensed.musicxml", "decisions.jsonl", "draft.mid", "draft.musicxml", "notes.jsonl", "report.json", ".written.sha256"}
SILENT = {"no-bars.xml", "no-notes.mid"}  # well-formed, but there is no music to draft


def draft(path: Path, level: str, out: Path, capsys: pytest.CaptureFixture[str]) -> int:
    """Exit status of a run; the folder is whole or not there, and a refusal is one sentence that names the file."""
    status = run(["draft", str(path), "--level", level, "--out", str(out), "--no-review"])
    told = capsys.readouterr()
    if status == 0:
        assert {file.name for file in out.iterdir()} == WHOLE
    else:
        assert (status, told.out, told.err.count("\n"), out.exists()) == (3, "", 1, False), told.err
        assert path.name in told.err
    return status


def attempted(kind: dict[str, bytes], name: str, level: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> int:
    (folder / name).write_bytes(kind[name])
    return draft(folder / name, level, folder / "out", capsys)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", sorted(written()))
def test_every_kind_of_musicxml_is_drafted(name: str, level: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What MusicXML 1.1 to 4.0 allow, and what programs write all the same, gives a draft; without a bar there is nothing to draft."""
    assert (3 if name in SILENT else 0) == attempted(written(), name, level, tmp_path, capsys)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", sorted(foreign()))
def test_other_formats_are_drafted(name: str, level: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """MIDI of both types, kern, ABC and MEI give a draft."""
    pytest.importorskip("converter21" if name.endswith((".krn", ".mei")) else "music21")
    assert (3 if name in SILENT else 0) == attempted(foreign(), name, level, tmp_path, capsys)


@pytest.mark.parametrize("name", sorted(broken()))
def test_what_is_no_score_is_refused(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Damaged files and attacks are refused, and nothing is written."""
    assert 3 == attempted(broken(), name, "advanced", tmp_path, capsys)


def suite() -> list[Path]:
    """The MusicXML regression suite that music21 (Cuthbert and Ariza, 2010) carries."""
    music21 = pytest.importorskip("music21")
    return sorted(
        path for path in (Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite").iterdir() if path.suffix in (".xml", ".mxl")
    )


@pytest.mark.parametrize("path", suite(), ids=lambda path: path.name)
def test_the_regression_suite_is_drafted(path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every file of the LilyPond MusicXML regression suite gives a draft at two levels, or is refused in one sentence."""
    for level in LEVELS:
        draft(path, level, tmp_path / level, capsys)
