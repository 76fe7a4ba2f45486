"""What the arranger decided is obeyed, survives every run, and stays readable beside what the tool had chosen."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from reduce.cli import run
from reduce.rulebook import choice_text, read_choices

SAMPLES = Path(__file__).parents[2] / "samples"
WALTZ, FERRY = SAMPLES / "ferry-landing-waltz.musicxml", SAMPLES / "the-last-ferry.musicxml"
LOCK = '[[choice]]\nbars = "5-8"\nhand = "left"\nlock = true\n'
THREE_SETTINGS = {
    "melody.toml": "[best-path.settings.line-change]\nvalue = 5\n",
    "accompaniment.toml": '[instead-of.settings.off-beats]\nvalue = ["block-chords", "held-root"]\n',
    "levels/intermediate.toml": "[span-left]\nvalue = 7\n",
}


def drafted(folder: Path, level: str, *more: str, score: Path = WALTZ) -> None:
    assert run(["draft", str(score), "--level", level, "--out", str(folder), "--no-review", *more]) == 0


def log(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "decisions.jsonl").read_text(encoding="utf-8").splitlines()]


def hers(folder: Path) -> list[dict[str, Any]]:
    return [row for row in log(folder) if row["by"] == "arranger" and row["rule"] == "choices"]


def doubts(folder: Path) -> list[str]:
    facts = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    return [row["sentence"] for row in facts["doubts"] if row["code"] == "choice"]


def written(folder: Path, staff: str, bars: range) -> list[str]:
    """The notes and rests of a staff in some bars as they stand in the file, ids aside."""
    found = []
    for measure in etree.parse(folder / "draft.musicxml").iter("measure"):
        if measure.get("number") in map(str, bars):
            notes = [note for note in measure.iterfind("note") if note.findtext("staff") == staff]
            found += [re.sub(r' id="[^"]*"', "", etree.tostring(note, encoding="unicode", with_tail=False)) for note in notes]
    return found


def tops(folder: Path, bars: range) -> list[int]:
    """Key numbers of the right hand's highest notes, moment by moment, read from the file without the project's reader."""
    found = []
    for measure in etree.parse(folder / "draft.musicxml").iter("measure"):
        if measure.get("number") not in map(str, bars):
            continue
        highest: dict[int, int] = {}
        at = start = 0
        for item in measure:
            length = int(item.findtext("duration") or 0)
            if item.tag == "backup":
                at -= length
            elif item.tag == "forward":
                at += length
            elif item.tag == "note":
                chord = item.find("chord") is not None
                start = start if chord else at
                tied = any(tie.get("type") == "stop" for tie in item.iterfind("tie"))
                pitch = item.find("pitch")
                if item.findtext("staff") == "1" and pitch is not None and not tied and item.find("grace") is None:
                    semitone = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[pitch.findtext("step") or "C"]
                    midi = 12 * (int(pitch.findtext("octave") or 0) + 1) + semitone + int(pitch.findtext("alter") or 0)
                    highest[start] = max(highest.get(start, 0), midi)
                if not chord:
                    at += length
        found += [highest[moment] for moment in sorted(highest)]
    return found


def test_a_locked_left_hand_survives_three_other_settings(tmp_path: Path) -> None:
    """Lock the left hand of bars 5 to 8, change three settings, run again: those bars are the same, others are not."""
    folder, rules = tmp_path / "draft", tmp_path / "rules"
    drafted(folder, "intermediate")
    before = written(folder, "2", range(5, 9))
    whole = written(folder, "2", range(25))
    (folder / "choices.toml").write_text(LOCK, encoding="utf-8")
    for name, text in THREE_SETTINGS.items():
        (rules / name).parent.mkdir(parents=True, exist_ok=True)
        (rules / name).write_text(text, encoding="utf-8")
    drafted(folder, "intermediate", "--rules", str(rules))
    assert before == written(folder, "2", range(5, 9))
    assert whole != written(folder, "2", range(25))
    assert [("hand", ["5", "8"], "left")] == [(row["kind"], row["bars"], row["hand"]) for row in hers(folder)]
    once = (folder / "draft.musicxml").read_bytes()
    drafted(folder, "intermediate", "--rules", str(rules))
    assert once == (folder / "draft.musicxml").read_bytes()


@pytest.mark.parametrize("bars", ["3-6", "0-24", "9"])
def test_a_lock_alone_changes_nothing(tmp_path: Path, bars: str) -> None:
    """Locking what is there leaves every note, slur and finger of the draft where it is."""
    folder = tmp_path / "draft"
    drafted(folder, "intermediate")
    before = written(folder, "1", range(25)) + written(folder, "2", range(25))
    (folder / "choices.toml").write_text(f'[[choice]]\nbars = "{bars}"\nlock = true\n', encoding="utf-8")
    drafted(folder, "intermediate")
    assert before == written(folder, "1", range(25)) + written(folder, "2", range(25))


def test_a_lock_of_another_level_does_not_touch_this_one(tmp_path: Path) -> None:
    """A choice for one level is no choice for the others."""
    plain, folder = tmp_path / "plain", tmp_path / "draft"
    drafted(plain, "advanced")
    drafted(folder, "advanced")
    (folder / "choices.toml").write_text(LOCK + 'level = ["first-year", "intermediate"]\n', encoding="utf-8")
    drafted(folder, "advanced")
    assert [] == hers(folder)
    assert (plain / "draft.musicxml").read_bytes() == (folder / "draft.musicxml").read_bytes()


@pytest.mark.parametrize("level", ["late-beginner", "advanced"])
def test_an_overruled_tune(tmp_path: Path, level: str) -> None:
    """Another instrument for the tune of bars 9 to 16, at two levels: obeyed, logged as hers with her reason, the earlier one readable."""
    plain, folder = tmp_path / "plain", tmp_path / "draft"
    drafted(plain, level)
    folder.mkdir()
    (tmp_path / "mine.toml").write_text(
        '[[choice]]\nbars = "9-16"\nmelody = "Cello"\nreason = "my pupils know the countermelody"\n', encoding="utf-8"
    )
    drafted(folder, level, "--choices", str(tmp_path / "mine.toml"))
    (row,) = hers(folder)
    assert ("melody", ["9", "16"]) == (row["kind"], row["bars"])
    assert "Cello" in row["sentence"] and "my pupils know the countermelody" in row["sentence"]
    earlier = {name for r in log(plain) if r["kind"] == "melody" for name in _instruments(r["sentence"])}
    assert row["rejected"] and all(other["what"] in earlier for other in row["rejected"])
    assert tops(plain, range(9, 17)) != tops(folder, range(9, 17))
    assert tops(plain, range(18, 25)) == tops(folder, range(18, 25))
    cello = _played("Cello", range(9, 17))
    share = sum(a % 12 == b % 12 for a, b in zip(tops(folder, range(9, 17)), cello, strict=False)) / len(cello)
    if level == "advanced":
        assert share > 0.9


def _instruments(sentence: str) -> list[str]:
    return [name for name in ("Violin", "Flute", "Clarinet in B♭", "Horn in F", "Cello", "Double Bass") if name in sentence]


def _played(part: str, bars: range) -> list[int]:
    """What a part plays (written at sounding pitch), read without the project's reader."""
    root = etree.parse(WALTZ).getroot()
    names = {score_part.get("id"): score_part.findtext("part-name") for score_part in root.iter("score-part")}
    found = []
    for measure in next(p for p in root.iterfind("part") if names[p.get("id")] == part).iterfind("measure"):
        for note in measure.iterfind("note") if measure.get("number") in map(str, bars) else ():
            pitch = note.find("pitch")
            tied = any(tie.get("type") == "stop" for tie in note.iterfind("tie"))
            if pitch is not None and not tied and note.find("chord") is None:
                semitone = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[pitch.findtext("step") or "C"]
                found.append(12 * (int(pitch.findtext("octave") or 0) + 1) + semitone + int(float(pitch.findtext("alter") or 0)))
    return found


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('bars = "90-99"\nmelody = "Cello"', "no bars 90-99"),
        ('bars = "9-16"\nmelody = "Celo"', "did you mean 'Cello'"),
        ('bars = "9-16"\nchord = "H7"', "no chord name"),
        ('bars = "9-16"\nfigure = "boogie"', "no figure 'boogie'"),
        ('bars = "90-99"\nlock = true', "no bars 90-99"),
        ('bars = "3"\nhand = "left"\nbeat = 0\nremove = "C8"', "no C8 to remove"),
        ('bars = "3"\nhand = "left"\nbeat = 0\nchange = "C8"\nto = "D8"', "no C8 to change"),
        ('bars = "90"\nhand = "left"\nbeat = 0\nadd = "C4"', "no bar 90"),
        ('bars = "3"\nhand = "right"\nbeat = "5/7"\nslur = "yes"\nlength = 1', "no notes begin and end there"),
        ('bars = "3"\nhand = "right"\nbeat = "5/7"\nno-slur = true', "no notes begin and end there"),
        ('bars = "90-91"\noctave = 1', "no bars 90-91"),
        ('bars = "90-91"\nmove = "left"', "no bars 90-91"),
        ('bars = "90-91"\ndrop = "Horn in F"', "no bars 90-91"),
    ],
    ids=lambda text: re.sub(r"\W+", " ", text)[:40],
)
def test_a_choice_that_no_longer_fits_is_a_problem(tmp_path: Path, entry: str, words: str) -> None:
    """Unknown bars, instruments, chords, figures, notes: the run goes on and the report says which choice was not followed and why."""
    (tmp_path / "mine.toml").write_text(f"[[choice]]\n{entry}\n", encoding="utf-8")
    drafted(tmp_path / "draft", "intermediate", "--choices", str(tmp_path / "mine.toml"))
    told = doubts(tmp_path / "draft")
    assert 1 == len(told)
    assert words in told[0] and told[0].startswith("Choice 1")
    assert [] == hers(tmp_path / "draft")


def test_a_choice_that_breaks_the_level_is_obeyed_with_its_price(tmp_path: Path) -> None:
    """A tenth for a hand that reaches a seventh: it is there, and her entry in the log says what it costs."""
    (tmp_path / "mine.toml").write_text(
        '[[choice]]\nbars = "5"\nhand = "left"\nbeat = 0\nadd = "A5"\nlength = 1\nreason = "try it"\n', encoding="utf-8"
    )
    drafted(tmp_path / "draft", "late-beginner", "--choices", str(tmp_path / "mine.toml"))
    assert "<step>A</step><octave>5</octave>" in "".join(written(tmp_path / "draft", "2", range(5, 6)))
    (row,) = hers(tmp_path / "draft")
    assert "the price:" in row["sentence"]
    assert row["measured"] > row["limit"]


CHOICES = {
    "key": ('key = "D"', "key"),
    "cut": ('cut = "1-16"', "cut"),
    "melody": ('bars = "9-16"\nmelody = "Cello"', "melody"),
    "bass": ('bars = "9-16"\nbass = "Horn in F"', "bass"),
    "drop": ('bars = "1-8"\ndrop = "Horn in F"', "inner"),
    "chord": ('bars = "3"\nchord = "Am"', "chord"),
    "move": ('bars = "9-16"\nmove = "left"', "hand"),
    "octave": ('bars = "9-16"\noctave = -1', "octave"),
    "figure": ('bars = "9-16"\nfigure = "block-chords"', "figure"),
    "add": ('bars = "3"\nhand = "right"\nbeat = 1\nadd = "F#4"', "inner"),
}


@pytest.mark.parametrize("name", CHOICES)
def test_each_kind_of_choice_changes_the_draft(tmp_path: Path, name: str) -> None:
    """Every action is obeyed at a level that can show it, is logged as hers once, and two runs are the same to the byte.

    Levels with one figure take bass and inner notes from the chords, so those choices show where the orchestra's own lines are played.
    """
    entry, kind = CHOICES[name]
    level = "advanced" if name in ("bass", "drop", "move") else "intermediate"
    drafted(tmp_path / "plain", level)
    (tmp_path / "mine.toml").write_text(f"[[choice]]\n{entry}\n", encoding="utf-8")
    for folder in ("one", "two"):
        drafted(tmp_path / folder, level, "--choices", str(tmp_path / "mine.toml"))
    assert [] == doubts(tmp_path / "one")
    assert [kind] == [row["kind"] for row in hers(tmp_path / "one")]
    assert (tmp_path / "plain" / "draft.musicxml").read_bytes() != (tmp_path / "one" / "draft.musicxml").read_bytes()
    for file in ("draft.musicxml", "decisions.jsonl", "notes.jsonl", "report.json"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()


def test_a_lock_holds_in_another_key(tmp_path: Path) -> None:
    """Locked notes move with the key: the same keys a fourth lower, nothing else changed in them."""
    folder = tmp_path / "draft"
    drafted(folder, "intermediate")
    before = _left_keys(folder)
    (folder / "choices.toml").write_text(LOCK, encoding="utf-8")
    drafted(folder, "intermediate", "--key", "D")
    shift = json.loads((folder / "report.json").read_text(encoding="utf-8"))["draft"]["transposed_semitones"]
    assert shift in (-5, 7)
    assert [key + shift for key in before] == _left_keys(folder)


def _left_keys(folder: Path) -> list[int]:
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    found = []
    for text in written(folder, "2", range(5, 9)):
        pitch = re.search(r"<step>(.)</step>(?:<alter>(-?\d)</alter>)?<octave>(\d)</octave>", text)
        if pitch:
            found.append(12 * (int(pitch[3]) + 1) + steps[pitch[1]] + int(pitch[2] or 0))
    return found


def test_all_faults_of_the_file_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Seven faults in six entries: seven sentences, exit status 2, no folder."""
    (tmp_path / "mine.toml").write_text(
        '[[choice]]\nbars = "9-16"\nmelodie = "Oboe"\n'
        "[[choice]]\nlock = true\n"
        '[[choice]]\nbars = "4"\nmelody = "Oboe"\nbass = "Cello"\n'
        '[[choice]]\nbars = "4"\nhand = "both"\nlock = true\n'
        '[[choice]]\nbars = "4"\noctave = 5\n'
        '[[choice]]\nbars = "4"\nadd = "X9"\nhand = "left"\nbeat = -1\nlevel = "grand-master"\n',
        encoding="utf-8",
    )
    assert run(["draft", str(WALTZ), "--choices", str(tmp_path / "mine.toml"), "--out", str(tmp_path / "draft")]) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) >= 7
    assert not (tmp_path / "draft").exists()
    for place in range(1, 7):
        assert any(f"choice {place}" in sentence for sentence in told)


def test_entries_come_through_reading_and_writing(tmp_path: Path) -> None:
    """An entry that is written is the entry that is read, whatever its reason holds."""
    reasons = ["plain", 'with "quotes" and \\ and ♯', "umlauts äöü and 'one'", "x" * 300, ""]
    text = "".join(
        f"[[choice]]\n{entry}\nreason = {json.dumps(reason, ensure_ascii=False)}\n"
        for (entry, _), reason in zip(CHOICES.values(), reasons * 2, strict=True)
    )
    (tmp_path / "one.toml").write_text(text + LOCK, encoding="utf-8")
    first = read_choices(tmp_path / "one.toml", [])
    (tmp_path / "two.toml").write_text("\n".join(map(choice_text, first)), encoding="utf-8")
    assert first == read_choices(tmp_path / "two.toml", [])
