"""Two drafts compared: the bars that differ, the notes, the cause."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from reduce.cli import run
from reduce.reviewing import compare_folders, compare_page

SAMPLE = Path(__file__).parents[2] / "samples" / "ferry-landing-waltz.musicxml"


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Drafts of the waltz: plain, the same again, with one setting changed, with one choice, in another key, shorter, easier."""
    root = tmp_path_factory.mktemp("drafts")
    (root / "rules").mkdir()
    (root / "rules" / "melody.toml").write_text("[best-path.settings.line-change]\nvalue = 5\n", encoding="utf-8")
    (root / "choices.toml").write_text('[[choice]]\nbars = "17-20"\nmelody = "Cello"\nreason = "for once below"\n', encoding="utf-8")
    wishes: dict[str, tuple[str, ...]] = {
        "plain": (),
        "again": (),
        "setting": ("--rules", str(root / "rules")),
        "choice": ("--choices", str(root / "choices.toml")),
        "key": ("--key", "D"),
        "short": ("--bars", "5-12"),
        "span": ("--span", "150"),
    }
    for name, asked in wishes.items():
        level = ("--level", "intermediate")
        assert run(["draft", str(SAMPLE), *level, *asked, "--out", str(root / name), "--no-review"]) == 0
    return root


def compared(root: Path, before: str, after: str) -> dict[str, Any]:
    return compare_folders(root / before, root / after)[0]


def test_equal_drafts_do_not_differ(folders: Path) -> None:
    """Law 5: the same input and rules give nothing to tell."""
    told = compared(folders, "plain", "again")
    assert ([], [], 25) == (told["different"], told["bars"], told["same_bars"])


def test_a_choice_is_the_cause_in_its_bars(folders: Path) -> None:
    """Two drafts that differ in one choice: only bars at the choice differ, and the choice is named as the cause."""
    told = compared(folders, "plain", "choice")
    assert ["choice"] == [cause["kind"] for cause in told["different"]]
    numbers = [int(bar["bar"]) for bar in told["bars"] if not bar["signs_only"]]
    assert numbers and set(numbers) <= set(range(16, 22))
    assert {"the choice “Bars 17–20: the tune is Cello's: for once below”"} == {
        cause["sentence"] for bar in told["bars"] if not bar["signs_only"] for cause in bar["causes"]
    }


def test_two_drafts_that_differ_in_one_rule(folders: Path) -> None:
    """The list names only the affected bars and that rule's setting; every other bar is note for note the same."""
    told = compared(folders, "plain", "setting")
    found = [(cause["kind"], cause["name"], cause["before"], cause["after"]) for cause in told["different"]]
    assert [("setting", "melody.best-path.line-change", 0.8, 5.0)] == found
    assert 0 < len(told["bars"]) < 25
    assert {"melody.best-path.line-change"} == {cause["name"] for bar in told["bars"] for cause in bar["causes"]}
    named = {bar["bar"] for bar in told["bars"]}
    texts = [(folders / name / "draft.musicxml").read_text(encoding="utf-8").split("<measure ")[1:] for name in ("plain", "setting")]
    ids = re.compile(r' id="[^"]*"')
    other = {before.split('"')[1] for before, after in zip(*texts, strict=True) if ids.sub("", before) != ids.sub("", after)}
    assert other <= named


def test_the_notes_are_counted_as_sets(folders: Path) -> None:
    """Notes added and removed by hand are the two drafts' difference, counted here from the files by music21's reader."""
    converter = pytest.importorskip("music21.converter")

    def struck(name: str, number: str, hand: int) -> list[tuple[float, int]]:
        staff = converter.parse(folders / name / "draft.musicxml").parts[hand]
        bar = next(bar for bar in staff.getElementsByClass("Measure") if str(bar.number) == number)
        notes = [
            (float(note.getOffsetInHierarchy(bar)), pitch.midi)
            for note in bar.recurse().notes
            if not (note.tie and note.tie.type != "start") and not note.duration.isGrace
            for pitch in note.pitches
        ]
        return sorted(notes)

    bar = next(bar for bar in compared(folders, "plain", "choice")["bars"] if bar["right"]["removed"])
    before, after = struck("plain", bar["bar"], 0), struck("choice", bar["bar"], 0)
    removed = [(float(note["beat"]), note["midi"]) for note in bar["right"]["removed"]]
    added = [(float(note["beat"]), note["midi"]) for note in bar["right"]["added"]]
    for place in removed:
        before.remove(place)
    assert sorted([*before, *added]) == after


def test_another_key_is_no_other_draft(folders: Path) -> None:
    """A transposed draft is compared in the first one's key, so that equal music does not differ note by note."""
    told = compared(folders, "plain", "key")
    assert told["moved_semitones"] in (-5, 7)
    assert "key" in {cause["name"] for cause in told["different"]}
    assert len([bar for bar in told["bars"] if not bar["signs_only"]]) < 25


def test_other_bars_are_told(folders: Path) -> None:
    """Bars that only one draft has are listed, not compared."""
    told = compared(folders, "plain", "short")
    assert ["0", "1", "2", "3", "4", *map(str, range(13, 25))] == told["only_before"]
    assert [] == told["only_after"]


def test_a_hand_is_one_cause(folders: Path) -> None:
    """Another hand span is told once, as the span, not again as a setting of the level."""
    told = compared(folders, "plain", "span")
    assert ["hand span in millimetres"] == [cause["name"] for cause in told["different"]]


def test_the_command_tells_text_json_and_a_page(folders: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`reduce compare`: text by cause; --json; --page writes one file with both drafts, the differing notes marked."""
    pair = [str(folders / "plain"), str(folders / "choice")]
    assert run(["compare", *pair]) == 0
    text = capsys.readouterr().out
    assert "of 25 bars differ" in text and "Because of the choice" in text and "load" in text
    assert run(["compare", *pair, "--json", "--page", str(tmp_path / "both.html")]) == 0
    told = json.loads(capsys.readouterr().out)
    page = (tmp_path / "both.html").read_text(encoding="utf-8")
    assert 'data-n="a0"' in page and 'data-n="b0"' in page
    data = json.loads(page.partition('id="data">')[2].partition("</script>")[0])
    notes = sum(len(bar[hand][what]) for bar in told["bars"] for hand in ("right", "left") for what in ("removed", "added"))
    assert notes <= len(data["marks"])
    assert "http://" not in page.replace("http://www.w3.org/", "")


def test_what_is_no_draft_folder_is_refused(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2 and one sentence."""
    assert run(["compare", str(folders / "plain"), str(folders)]) == 2
    assert "is not a draft folder" in capsys.readouterr().err


def test_names_of_folders_stay_text(folders: Path, tmp_path: Path) -> None:
    """A folder's name is shown as text, whatever it holds."""
    (tmp_path / "<img src=x>").symlink_to(folders / "plain")
    before = tmp_path / "<img src=x>"
    told, sides = compare_folders(before, folders / "choice")
    assert "<img" not in compare_page(told, sides, before, folders / "choice")
