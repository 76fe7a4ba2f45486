"""An arranger's folder and a pupil's profile over the rule book."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from reduce import rulebook
from reduce.model.errors import RuleError, UsageError


def folder(where: Path, **files: str) -> Path:
    """A rules folder; ``levels__mine`` becomes levels/mine.toml."""
    for name, text in files.items():
        path = where / f"{name.replace('__', '/').replace('_', '-')}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return where


@pytest.mark.parametrize("text", ["span-left = 9", "[span-left]\nvalue = 9", '[span-left]\nvalue = 9\nsource = "my pupils"'])
def test_a_value_alone_is_enough(tmp_path: Path, text: str) -> None:
    """An overlay names only what it changes; everything else stays."""
    before = rulebook.load("intermediate")
    after = rulebook.load("intermediate", overlay=folder(tmp_path, levels__intermediate=text))
    assert after.level.span_left == 9
    assert (after.level.span_right, after.values) == (before.level.span_right, before.values)
    assert after.fingerprint != before.fingerprint


def test_other_levels_stay_as_they_are(tmp_path: Path) -> None:
    """Changing one level changes no other."""
    overlay = folder(tmp_path, levels__intermediate="span-left = 9")
    assert rulebook.load("late-intermediate", overlay=overlay).level == rulebook.load("late-intermediate").level


def test_a_new_level_extends_another(tmp_path: Path) -> None:
    """A level of one's own says what it starts from and what differs, even over a changed level."""
    mine = 'extends = "intermediate"\ntitle = "Small hands"\nspan-right = 9\nlowest = "C2"\n'
    overlay = folder(tmp_path, levels__small_hands=mine, levels__intermediate="black-in-chord = 1")
    level = rulebook.load("small-hands", overlay=overlay).level
    assert (level.name, level.title, level.span_right, level.lowest) == ("small-hands", "Small hands", 9, 36)
    assert (level.black_in_chord, level.notes_left) == (1, 3)
    assert "small-hands" in [page.name for page in rulebook.levels(overlay)]


def test_a_rule_setting_is_laid_over(tmp_path: Path) -> None:
    """Family files of the overlay change settings by rule and name, with or without the word 'settings'."""
    rule = next(rule for rule in rulebook.rules() if any(isinstance(s.value, int) and s.range for s in rule.settings))
    setting = next(s for s in rule.settings if isinstance(s.value, int) and s.range)
    assert setting.range
    new = setting.range[0] if setting.value != setting.range[0] else setting.range[1]
    name = rule.id.removeprefix(f"{rule.family}.")
    key = setting.name.removeprefix(f"{rule.id}.")
    for text in (f"[{name}]\n{key} = {new}", f"[{name}.settings.{key}]\nvalue = {new}"):
        overlay = folder(tmp_path, **{rule.family: text})
        assert rulebook.load("advanced", overlay=overlay).values[setting.name] == new


def test_all_faults_of_all_files_at_once(tmp_path: Path) -> None:
    """Five slips in three files: five sentences, each with file and key, the allowed values, the closest known name."""
    rule = rulebook.rules()[0]
    name = rule.id.removeprefix(f"{rule.family}.")
    overlay = folder(
        tmp_path,
        levels__intermediate='span-lft = 9\nsignature-max = 12\npedal = "lots"\n',
        levels__mine='extends = "intermediat"\n',
        **{rule.family: f"[{name[:-1]}]\nx = 1\n"},
    )
    with pytest.raises(RuleError) as caught:
        rulebook.load("intermediate", overlay=overlay)
    level, mine = overlay / "levels" / "intermediate.toml", overlay / "levels" / "mine.toml"
    faults = caught.value.faults
    assert len(faults) == 5
    assert f"{level}, span-lft: there is no level setting 'span-lft' (did you mean 'span-left'?); known are " in faults[0]
    assert faults[1] == f"{level}, signature-max: 12 is outside 0 to 7 sharps or flats."
    assert faults[2] == f"{level}, pedal: 'lots' is not allowed; allowed are none, long-notes, per-harmony, free."
    assert f"{mine}, extends: there is no other level 'intermediat' (did you mean 'intermediate'?); known are " in faults[3]
    assert f"{overlay / rule.family}.toml, {name[:-1]}: there is no rule {name[:-1]!r} (did you mean {name!r}?); known are " in faults[4]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("span-left = 9.5", "9.5 should be a whole number"),
        ("span-left = [9]", "[9] should be one value, not a list"),
        ("hairpins = 1", "1 should be true or false"),
        ("hand-span = 'wide'", "'wide' should be a number"),
        ("lowest = 'H2'", "'H2' is not a note name; write it like F#2 or Bb4 (C4 is middle C)"),
        ("lowest = 'A9'", "'A9' is outside A0 to C8"),
        ("meters = '4/4'", "'4/4' should be a list in square brackets"),
        ("meters = ['4/4', '5/9']", "'5/9' is not allowed (did you mean '5/8'?); allowed are "),
        ("keys = ['H dur']", "'H dur' is not a key; write it like 'D major' or 'F# minor'"),
        ("[span-left]\nvalue = 9\nrange = [0, 99]", "belongs to the rule and cannot be changed; it is [0, 24]"),
        ("[span-left]\nsource = 'me'", "needs a value; write value = ..."),
        ("lowest = 'C6'\nhighest = 'C5'", "level intermediate, lowest: lies above highest"),
        ("extends = 'mine'\n", "extends this level in turn, or cannot be read"),
        ("order = 'two'", "'two' should be a whole number, 1 for the easiest to 6 for the hardest"),
        ("order = 7", "7 should be a whole number, 1 for the easiest to 6 for the hardest"),
        ("span-left = ", "is not TOML: "),
    ],
)
def test_each_slip_has_its_sentence(tmp_path: Path, text: str, sentence: str) -> None:
    """The fault says what is wrong and what would be right."""
    overlay = folder(tmp_path, levels__intermediate=text, levels__mine="extends = 'intermediate'")
    with pytest.raises(RuleError) as caught:
        rulebook.load("intermediate", overlay=overlay)
    assert any(sentence in fault for fault in caught.value.faults), caught.value.faults


@pytest.mark.parametrize("value", ["[]", "[0.6]", "[9, 9, 9, 9, 9, 9, 9]"])
def test_a_list_of_numbers_stays_as_long_as_it_is(tmp_path: Path, value: str) -> None:
    """Each of its numbers has its place, such as a level."""
    overlay = folder(tmp_path, easing=f"[bar.settings.leeway]\nvalue = {value}\n")
    with pytest.raises(RuleError) as caught:
        rulebook.load("intermediate", overlay=overlay)
    assert any("should hold 6 numbers, as [" in fault for fault in caught.value.faults), caught.value.faults


def test_unknown_level_folder_and_span(tmp_path: Path) -> None:
    """What does not exist is told with what does."""
    with pytest.raises(UsageError, match=r"no level 'advancd' \(did you mean 'advanced'\?\); the levels are first-year, late-beginner, "):
        rulebook.load("advancd")
    with pytest.raises(UsageError, match="There is no rules folder"):
        rulebook.load("advanced", overlay=tmp_path / "none")
    with pytest.raises(UsageError, match="holds no rule file"):
        rulebook.load("advanced", overlay=tmp_path)
    with pytest.raises(UsageError, match="no hand"):
        rulebook.load("advanced", span_mm=20)
    with pytest.raises(UsageError, match="There is no profile"):
        rulebook.load("advanced", profile=tmp_path / "none.toml")


def test_a_pupils_profile(tmp_path: Path) -> None:
    """A profile speaks of span, keys, pedal, values and what to avoid; its name goes with the level."""
    path = tmp_path / "pupil.toml"
    path.write_text(
        'name = "Tuesday pupil"\nspan = 141\nkeys = ["C major", "A minor"]\npedal = false\nshortest = "eighth"\nlongest = "half"\n'
        'avoid = ["ties", "triplets"]\nnotes-left = 2\n',
        encoding="utf-8",
    )
    level = rulebook.load("intermediate", profile=path).level
    assert (level.pupil, level.hand_span, level.keys, level.pedal) == ("Tuesday pupil", 141.0, ("C major", "A minor"), "none")
    assert (level.shortest, level.longest, level.ties, level.triplets, level.notes_left) == (Fraction(1, 2), 2, False, False, 2)
    assert level.span_left == rulebook.load("intermediate").level.span_left
    assert rulebook.load("intermediate", profile=path, span_mm=118).level.hand_span == 118
    told = next(s for s in rulebook.level_page("intermediate", profile=path).settings if s.name == "ties")
    assert told.source == "profile of Tuesday pupil"


def test_faults_of_a_profile(tmp_path: Path) -> None:
    """A profile's slips are told like those of any other rule file."""
    path = tmp_path / "pupil.toml"
    path.write_text('span = 20\navoid = ["tied notes"]\nkyes = []\n', encoding="utf-8")
    with pytest.raises(RuleError) as caught:
        rulebook.load("intermediate", profile=path)
    faults = " ".join(caught.value.faults)
    assert len(caught.value.faults) == 3
    assert "there is no thing to avoid called 'tied notes'; known are ties, eighths," in faults
    assert "20.0 is outside 80 to 300 millimetres" in faults
    assert "there is no entry of a profile 'kyes' (did you mean 'keys'?)" in faults


def test_instruments_can_be_added(tmp_path: Path) -> None:
    """An overlay's instruments.toml adds an instrument or changes entries of one."""
    text = """
[bass-ocarina]
name = "Bass ocarina"
short = "B. Oc."
family = "woodwind"
names = ["Bass Ocarina"]
sounds = []
written_to_sounding = { diatonic = -7, chromatic = -12 }
range = ["C3", "F4"]
source = "from memory"
"""
    made = rulebook.load("advanced", overlay=folder(tmp_path, instruments=text)).instruments["bass-ocarina"]
    assert (made.names, made.diatonic, made.chromatic, made.lowest, made.highest) == (("bass ocarina",), -7, -12, 48, 65)
