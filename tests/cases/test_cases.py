"""Each rule shown on a few notes, the whole way from score file to draft.  The format: README.md beside this file."""

from __future__ import annotations

import json
import re
import tomllib
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from lxml import etree
from pypdfium2 import PdfDocument

import reduce
from reduce import engrave, packing, rulebook, teach
from reduce.engrave.booklet import Press
from reduce.hands.check import check
from reduce.hands.touch import HANDS
from reduce.model.draft import Draft
from reduce.model.pitch import Pitch
from reduce.model.score import Meter
from reduce.pipeline import Result
from reduce.report.log import notes_jsonl
from reduce.teach.answers import answers
from reduce.teach.duet import seat
from reduce.teach.listening import choices, heard
from reduce.teach.makings import makings
from reduce.teach.practice import printed_bars
from reduce.teach.steps import steps
from reduce.teach.tempi import ladder
from reduce.teach.warmups import clapped, positions, ways
from reduce.teach.worksheet import lines as worksheet_lines
from tests import tiny

HERE = Path(__file__).parent
EXPECTATIONS = {"after", "must_stay", "never", "tune", "says", "silent", "roles", "finds", "includes", "xml", "sounds", "lines", "pages"}
KEYS = EXPECTATIONS | {"title", "level", "settings", "before", "key", "bars", "length", "span"}

RULES = {rule.id: rule for rule in rulebook.rules()}
FILES = {f"{path.parent.name}.{path.stem}": path for path in sorted(HERE.glob("*/*.toml"))}
CASES = [(id, case) for id, path in FILES.items() for case in tomllib.loads(path.read_text(encoding="utf-8")).get("case", [])]


def test_every_rule_has_a_case() -> None:
    """Law of the rule book: a rule is shown on a few notes, in tests/cases/FAMILY/RULE.toml."""
    assert sorted(RULES.keys() - FILES.keys()) == []


@pytest.mark.parametrize("id", sorted(FILES))
def test_every_case_belongs_to_a_rule(id: str) -> None:
    """A case file is named after a rule, holds a case, and each case expects something."""
    cases = [case for name, case in CASES if name == id]
    assert id in RULES
    assert cases
    assert [case.get("title") for case in cases if not EXPECTATIONS & case.keys()] == []
    assert [sorted(case.keys() - KEYS) for case in cases if case.keys() - KEYS] == []


@pytest.mark.parametrize(("id", "case"), CASES, ids=[f"{id}: {case.get('title', '')}" for id, case in CASES])
def test_case(id: str, case: dict[str, Any], tmp_path: Path) -> None:
    """The draft of the tiny score is what the case says."""
    level = case.get("level", "advanced")
    source = tmp_path / "tiny.musicxml"
    source.write_bytes(tiny.musicxml(case["before"], case.get("title", "Tiny")))
    result = reduce.draft(
        source,
        level=level,
        bars=case.get("bars"),
        key=case.get("key", "keep"),
        length=case.get("length", "full"),
        span_mm=case.get("span"),
        rules_dir=_overlay(case.get("settings", {}), level, tmp_path / "rules"),
    )
    for kind in ("after", "must_stay", "never"):
        if kind in case:
            _compare(kind, tiny.read(case[kind]), result.draft)
    if "tune" in case:
        names = {stream.id: stream.name for stream in result.texture.streams}
        told = [names[lead.stream] for lead in result.texture.tune]
        assert case["tune"] == [name for i, name in enumerate(told) if not i or told[i - 1] != name]
    if "says" in case:
        sentences = [decision.sentence for decision in result.decisions if decision.rule == id]
        assert [s for s in sentences if all(word in s for word in case["says"])], sentences
    if case.get("silent"):
        assert [decision.sentence for decision in result.decisions if decision.rule == id] == []
    for name, role in case.get("roles", {}).items():
        part = next(part.index for part in result.score.parts if part.name == name)
        played = Counter(result.texture.roles.get(note.id) for note in result.score.notes if note.part == part)
        assert played.most_common(1)[0][0] == role, name
    for path, expected in case.get("finds", {}).items():
        assert expected == _found(result, path), path
    for path, expected in case.get("includes", {}).items():
        found = _found(result, path)
        assert [item for item in expected if item not in found] == [], (path, found)
    if "xml" in case:
        root = etree.fromstring(result.musicxml)
        assert case["xml"] == {path: root.xpath(path) for path in case["xml"]}
    if "lines" in case:
        assert case["lines"] == len(engrave.pages(result.musicxml, result.rules.level, rules=result.rules))
    if "pages" in case:
        sheet = engrave.pdf(result.musicxml, result.rules.level, rules=result.rules)
        assert case["pages"] == sum(int(count) for count in re.findall(rb"/Type\s*/Pages[^>]*?/Count (\d+)", sheet)[:1])
    if "sounds" in case:
        expected = tiny.read(case["sounds"])
        for name in {line.name for line in expected.lines}:
            part = next(part for part in result.score.parts if part.name == name)
            unit = result.score.resolution
            notes = [note for note in result.score.notes if note.part == part.index]
            heard = {(Fraction(note.onset, unit), Fraction(note.duration, unit), note.midi) for note in notes}
            assert expected.struck(name) == heard


class Taught:
    """What the pack makes of a draft: the chords that are asked, the steps, the pages."""

    def __init__(self, result: Result) -> None:
        log = notes_jsonl(result.fates, result.score, result.texture.roles).decode().splitlines()
        fates = tuple(json.loads(line) for line in log)
        self._lesson = packing.lesson_of(result.draft, result.rules, packing.Wishes(), fates=fates)

    @property
    def pianos(self) -> tuple[int, ...]:
        """How many pianos the duet needs."""
        hardest = rulebook.levels()[-1]
        return (seat(self._lesson.draft, self._lesson.rules, rulebook.load(hardest.name).level.highest).pianos,)

    @property
    def asked(self) -> tuple[Any, ...]:
        """Chords to name, the worked example included."""
        return tuple(answer for answer in answers(self._lesson) if answer.asked or answer.example)

    @property
    def lines(self) -> tuple[str, ...]:
        """Bars of the lines of the printed worksheet."""
        return tuple(self._lesson.range_of(*line) for line in worksheet_lines(self._lesson, answers(self._lesson)))

    @property
    def steps(self) -> tuple[Any, ...]:
        """Practice steps with a simpler left hand."""
        return steps(self._lesson)

    @property
    def step_bars(self) -> tuple[str, ...]:
        """Bars of the steps that are printed."""
        return tuple(self._lesson.range_of(*part) for part in printed_bars(self._lesson, steps(self._lesson)))

    @property
    def tempi(self) -> tuple[int, ...]:
        return ladder(self._lesson)

    @property
    def patterns(self) -> tuple[str, ...]:
        """Stretches in which a hand does one kind of thing: '1–3 left bass-and-chord'."""
        number = self._lesson.number
        return tuple(f"{number(one.first)}–{number(one.last)} {one.hand} {one.kind}" for one in makings(self._lesson))

    @property
    def claps(self) -> tuple[str, ...]:
        """Bars of the rhythm to clap, and the bars from which it comes again."""
        cut, number = clapped(self._lesson), self._lesson.number
        return (f"{number(cut.first)}–{number(cut.last)}", *map(number, cut.again)) if cut else ()

    @property
    def drills(self) -> tuple[str, ...]:
        """Ways that are drilled: 'left C2–C4'."""
        return tuple(f"{way.hand} {way.origin.pitches[0]}–{way.goal.pitches[0]}" for way in ways(self._lesson))

    @property
    def places(self) -> int:
        """How many places of the hands are to be found."""
        return sum(len(positions(self._lesson, hand)) for hand in HANDS)

    @property
    def heard(self) -> tuple[str, ...]:
        """Questions of the listening task with their answers: '1–2 Oboe / Cello'."""
        return tuple(f"{self._lesson.range_of(row.first, row.last)} {row.tune} / {row.bass}" for row in heard(self._lesson))

    @property
    def instruments(self) -> int:
        """How many names there are to choose from."""
        return len(choices(self._lesson, heard(self._lesson)))

    @property
    def worksheet_pages(self) -> int:
        rules = self._lesson.rules
        made = teach.booklet(self._lesson)
        made = replace(made, sections=tuple(section for section in made.sections if section.name == "worksheet"))
        press = Press(made, rules.level, rules, lambda sheet: packing.written(sheet, rules))
        return len(PdfDocument(press.pdf()))


def _found(result: Result, path: str) -> list[Any]:
    """The values at a dotted path of the result ('texture.chords.name'), in order.

    ``check`` is the verdict on the draft, ``lesson`` what the pack teaches.
    """
    first, *rest = path.split(".")
    if first == "check":
        found: list[Any] = [check(result.draft, result.rules.level, result.rules)]
    else:
        value = Taught(result) if first == "lesson" else getattr(result, first)
        found = list(value) if isinstance(value, tuple) else [value]
    for name in rest:
        found = [getattr(item, name) for item in found]
        found = [inner for item in found for inner in (item if isinstance(item, tuple) else (item,))]
    return [str(item) if isinstance(item, (Pitch, Meter)) else item for item in found]


def _overlay(settings: dict[str, Any], level: str, folder: Path) -> Path | None:
    """The settings as an arranger's rules folder."""
    if not settings:
        return None
    files: dict[Path, list[str]] = {}
    for name, value in settings.items():
        family, _, rest = name.partition(".")
        path = folder / "levels" / f"{level}.toml" if family == "level" else folder / f"{family}.toml"
        key = rest if family == "level" else rest.replace(".", ".settings.", 1)
        files.setdefault(path, []).append(f"{key} = {_toml(value)}")
    for path, lines in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("\n".join(lines), encoding="utf-8")
    return folder


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return repr(value) if not isinstance(value, str) else f'"{value}"'


def _compare(kind: str, expected: tiny.Tiny, draft: Draft) -> None:
    for hand in dict.fromkeys(line.name for line in expected.lines):
        wild = expected.anything(hand)
        wanted = expected.struck(hand)
        played = {
            (Fraction(note.onset, draft.resolution), Fraction(note.duration, draft.resolution), note.midi)
            for note in draft.notes
            if note.hand == hand
        }
        played = {note for note in played if not any(low <= note[0] < high for low, high in wild)}
        if kind == "after":
            assert _sorted(wanted) == _sorted(played), hand
        elif kind == "must_stay":
            assert _sorted(wanted - played) == [], hand
        else:
            assert _sorted(wanted & played) == [], hand


def _sorted(notes: set[tuple[Fraction, Fraction, int]]) -> list[tuple[str, str, int]]:
    return [(str(onset), str(duration), midi) for onset, duration, midi in sorted(notes)]
