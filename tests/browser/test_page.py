"""The review page in a real browser, as a teacher uses it."""

from __future__ import annotations

import json
import time
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from reduce import rulebook
from reduce.rulebook import read_choices

pytestmark = pytest.mark.filterwarnings("default")  # the driver's sockets are closed at the end of the session only


def rows_of(folder: Path, name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / name).read_text(encoding="utf-8").splitlines()]


def one(page: Any, selector: str) -> Any:
    return page.find_element("css selector", selector)


def some(page: Any, selector: str) -> list[Any]:
    found: list[Any] = page.find_elements("css selector", selector)
    return found


def click(page: Any, target: Any) -> None:
    """A real click on an element, free of the player at the foot of the page."""
    page.execute_script("arguments[0].scrollIntoView({block: 'center'})", target)
    target.click()


def put(page: Any, name: str, value: str) -> None:
    """Set a control the way a person does, with its event."""
    script = "const c = document.getElementById(arguments[0]); c.value = arguments[1]; c.dispatchEvent(new Event('input', {bubbles: true}))"
    page.execute_script(script, name, value)


def unfold(page: Any, rows: str) -> None:
    """Open the folded answers of some reasons."""
    page.execute_script("document.querySelectorAll(arguments[0] + ' details.answer').forEach((fold) => { fold.open = true; })", rows)


def press(page: Any, *keys: str) -> None:
    page.switch_to.active_element.send_keys(*keys)


def until(page: Any, condition: str, seconds: float = 5.0) -> Any:
    """The first true answer of a script within some seconds."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := page.execute_script(f"return {condition}"):
            return answer
        time.sleep(0.03)
    raise AssertionError(f"did not come true: {condition}")


def test_the_page_opens_in_the_order_a_teacher_looks(page: Any) -> None:
    """Tune, doubts, decisions, hard bars, bar by bar, reasons; a verdict in one line; at most eight big decisions."""
    heads = [head.text for head in some(page, "main h2")]
    assert heads[:6] == [
        *("Is it the tune?", "What was not understood", "What was decided", "Where it is hard", "Bar by bar", "All reasons"),
    ]
    verdict = one(page, "#verdict").text
    assert verdict.startswith("Intermediate, G major, 25 bars, quarter = ") and verdict.count("\n") == 0
    assert 4 <= len(some(page, ".headline")) <= 8
    assert len(some(page, ".cell")) == 25


def test_a_note_of_the_draft_answers(page: Any, waltz: Path) -> None:
    """A click tells what the note stands for, from which instruments, why, and what would change it: as the log has it."""
    group = some(page, "#line-0 g.note.of-draft")[4]
    click(page, group.find_element("css selector", ".hit"))
    card = one(page, "#card")
    assert card.is_displayed()
    text = card.get_attribute("textContent")
    label = group.get_attribute("aria-label")
    assert label.split(",")[0] in text
    assert "Stands for" in text and "Why" in text and "setting would change it" in text
    fates, log = rows_of(waltz, "notes.jsonl"), rows_of(waltz, "decisions.jsonl")
    assert any(row["part"] in text and row["pitch"] in text for row in fates if row["draft_notes"])
    assert any(row["sentence"] in text for row in log)


def test_every_drawn_note_has_a_name_and_the_log_knows_it(page: Any, waltz: Path) -> None:
    """No note is mute: each of the draft's notes is drawn, named for screen readers, and leads to at least one decision."""
    page.execute_script("dispatchEvent(new Event('beforeprint'))")
    drawn = page.execute_script(
        "return [...new Set([...document.querySelectorAll('.system g.note.of-draft')].map((g) => g.dataset.n))].length"
    )
    report = json.loads((waltz / "report.json").read_text(encoding="utf-8"))
    assert sum(report["counts"]["draft_notes"].values()) == drawn
    data = json.loads(one(page, "#data").get_attribute("textContent"))
    assert [] == [note for note in data["draft"] if note and not note[10]]
    assert [] == some(page, "g.note[tabindex]:not([aria-label])")


def test_a_note_of_the_source_tells_its_fate(page: Any, waltz: Path) -> None:
    """A crossed-out note of the orchestra says that it is left out and why."""
    page.execute_script("dispatchEvent(new Event('beforeprint'))")
    group = some(page, "g.note.of-source.left-out")[0]
    page.execute_script("arguments[0].scrollIntoView({block: 'center'})", group)
    page.execute_script("arguments[0].querySelector('use').dispatchEvent(new MouseEvent('click', {bubbles: true}))", group)
    text = one(page, "#card").text
    assert "Its fate: left out" in text
    gone = {row["decision"] for row in rows_of(waltz, "notes.jsonl") if row["fate"] == "dropped"}
    sentences = [row["sentence"] for row in rows_of(waltz, "decisions.jsonl") if row["id"] in gone]
    assert any(sentence in text for sentence in sentences)


def test_tune_bass_and_inner_notes_differ_by_shape(page: Any) -> None:
    """Not by colour alone: the tune has a sign of its own, the bass another, inner notes none."""
    shapes = page.execute_script("""
        const found = {};
        for (const role of ['tune', 'bass', 'inner']) {
          const group = document.querySelector(`#line-0 g.note.of-draft.${role}[tabindex]`);
          found[role] = [...group.querySelectorAll('path.sign.tune, path.sign.bass')].map((path) => path.getAttribute('d'));
        }
        return found;
    """)
    assert len(shapes["tune"]) == len(shapes["bass"]) == 1
    assert shapes["tune"] != shapes["bass"]
    assert [] == shapes["inner"]


def test_the_list_is_filtered(page: Any, waltz: Path) -> None:
    """By kind, weight, certainty, hand and bar; the number shown is told."""
    log = rows_of(waltz, "decisions.jsonl")

    def shown() -> list[str]:
        return [row.get_attribute("data-kind") for row in some(page, ".reasons tbody tr:not([hidden])")]

    whole = len(shown())
    put(page, "filter-weight", "all")
    assert whole < len(shown()) <= len(log)
    put(page, "filter-kind", "melody")
    assert {"melody"} == set(shown())
    click(page, one(page, "#filter-clear"))
    one(page, "#filter-bar").send_keys("12")
    spans = [row.get_attribute("data-at") for row in some(page, ".reasons tbody tr:not([hidden])")]
    assert spans and all(any(int(a) <= 12 <= int(b) for a, b in (span.split("-") for span in at.split())) for at in spans)
    one(page, "#filter-bar").send_keys("999")
    assert "no bar 12999" in one(page, "#shown").text


def test_the_strip_leads_to_the_bar(page: Any) -> None:
    """A click on a cell brings its bar into view, marks it and puts the keyboard there; grade and number stand as text."""
    cell = some(page, ".cell")[20]
    assert cell.text.split()[0] == "20" and cell.text.split()[1][0] in "12345"
    click(page, cell)
    label = until(page, "document.activeElement.getAttribute('aria-label')")
    assert "bar 20 beat" in label
    assert until(page, "document.querySelectorAll('.bar-frame').length === 1")
    frame = "document.querySelector('.bar-frame').getBoundingClientRect()"
    until(page, f"{frame}.top < innerHeight && {frame}.bottom > 0")


def test_listening(page: Any) -> None:
    """The audio clock advances, notes light up as they sound, the bar is told, and stop is stop."""
    page.execute_script("""
        window.clocks = [];
        const Audio = window.AudioContext;
        window.AudioContext = class extends Audio { constructor() { super(); window.clocks.push(this); } };
    """)
    one(page, "#play").click()
    until(page, "clocks.length === 1 && clocks[0].currentTime > 0.4")
    until(page, "document.querySelectorAll('.sounding').length > 0")
    assert one(page, "#where").text.startswith("bar ")
    before = page.execute_script("return clocks[0].currentTime")
    until(page, f"clocks[0].currentTime > {before} + 0.3")
    one(page, "#play").click()
    assert "stopped" == one(page, "#where").text
    assert [] == some(page, ".sounding")


@pytest.mark.parametrize("what", ["right", "left", "source"])
def test_hands_and_orchestra_are_heard_alone(page: Any, what: str) -> None:
    """Only what was asked for lights up, the bars named are looped, at the speed asked for."""
    one(page, f"#what option[value={what}]").click()
    for name, number in (("from", "3"), ("to", "3")):
        one(page, f"#{name}").clear()
        one(page, f"#{name}").send_keys(number)
    one(page, "#loop").click()
    one(page, "#click").click()
    put(page, "speed", "130")
    one(page, "#play").click()
    until(page, "document.querySelectorAll('.sounding').length > 0")
    classes = page.execute_script("return [...document.querySelectorAll('.sounding')].map((g) => g.getAttribute('aria-label') || '')")
    assert classes and all(("Orchestra" in label) == (what == "source") for label in classes if label)
    if what != "source":
        assert all(f"{what} hand" in label for label in classes if label)
    assert "bar 3" == one(page, "#where").text
    assert "true" == one(page, "#play").get_attribute("aria-pressed")
    one(page, "#play").click()


def test_everything_by_keyboard(page: Any) -> None:
    """Tab reaches the music in one stop a line; arrows walk, Enter asks, Escape goes back to the note; P plays, L locks, N jumps."""
    keys = pytest.importorskip("selenium.webdriver.common.keys").Keys
    page.execute_script("document.getElementById('bars').focus()")
    for _ in range(12):
        press(page, keys.TAB)
        if page.execute_script("return document.activeElement.matches('g.note')"):
            break
    first = page.switch_to.active_element.get_attribute("aria-label")
    assert "hand, bar 0" in first
    press(page, keys.ARROW_RIGHT)
    second = page.switch_to.active_element.get_attribute("aria-label")
    assert first != second and "bar 1" in second
    press(page, keys.ARROW_UP)
    press(page, keys.ENTER)
    assert one(page, "#card").is_displayed()
    press(page, keys.ESCAPE)
    assert not one(page, "#card").is_displayed()
    assert page.execute_script("return document.activeElement.matches('g.note')")
    press(page, "l")
    assert "lock = true" in one(page, "#choices").get_attribute("value")
    press(page, "p")
    until(page, "document.getElementById('play').getAttribute('aria-pressed') === 'true'")
    press(page, "p")
    click(page, one(page, "#single-keys"))
    press(page, "p")
    assert "false" == one(page, "#play").get_attribute("aria-pressed")


def test_answers_are_entries_that_the_next_run_reads(page: Any, tmp_path: Path) -> None:
    """Every offer of every decision, and every way to answer a note, is TOML that the choices file takes without a fault."""
    unfold(page, "tr")
    texts = page.execute_script("""
        return new Promise((done) => setTimeout(() => {
          document.querySelectorAll('.offer button:first-child').forEach((button) => button.click());
          done(document.querySelectorAll('.offer').length);
        }, 200));
    """)
    click(page, some(page, "#line-0 g.note.of-draft .hit")[3])
    buttons = "document.querySelectorAll('#card > .answers button')"
    ways = page.execute_script(f"{buttons}.forEach((button) => button.click()); return {buttons}.length")
    text = one(page, "#choices").get_attribute("value")
    (tmp_path / "choices.toml").write_text(text, encoding="utf-8")
    found = read_choices(tmp_path / "choices.toml", [level.name for level in rulebook.levels()])
    assert texts + ways == len(found)
    assert {"melody", "lock", "remove", "change"} <= {choice.action for choice in found}


def test_runners_up_are_shown_as_notes(page: Any) -> None:
    """'Not like this' offers other instruments with their notes on a small staff that is named for screen readers."""
    unfold(page, "tr[data-kind=melody]")
    until(page, "document.querySelectorAll('.small-staff').length > 0")
    staff = some(page, ".small-staff")[0]
    assert len(staff.find_elements("css selector", "ellipse")) > 0
    assert ":" in staff.get_attribute("aria-label")


def test_the_arrangers_choice_is_hers(page: Any) -> None:
    """Her own reason stands among the decisions, first, and what the tool had chosen is still readable."""
    line = some(page, ".headline")[0].text
    assert line.startswith("Your choices") and "my pupils know the countermelody" in line
    row = next(row for row in some(page, ".reasons tbody tr") if "my pupils know the countermelody" in row.text)
    assert "(your choice)" in row.text and "the tool's own choice" in row.text


def test_print_is_music_and_a_table(page: Any) -> None:
    """On paper: every line of music is drawn, the reasons are a table, buttons and player are gone."""
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    page.execute_script("dispatchEvent(new Event('beforeprint'))")
    try:
        state = page.execute_script("""
            const seen = (selector) => [...document.querySelectorAll(selector)].filter((e) => e.getClientRects().length).length;
            return {buttons: seen('button'), player: seen('.player'), lines: seen('.system svg.music'), rows: seen('.reasons tbody tr')};
        """)
        pdf = page.execute_cdp_cmd("Page.printToPDF", {"printBackground": True})
    finally:
        page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert (0, 0) == (state["buttons"], state["player"])
    assert len(some(page, ".system")) == state["lines"]
    assert state["rows"] > 0
    assert len(pdf["data"]) > 20_000


@pytest.mark.parametrize(("width", "zoom"), [(1280, 1), (768, 1), (1280, 2)])
def test_no_sideways_scrolling(page: Any, width: int, zoom: int) -> None:
    """A tablet's width and 200 % need no scrolling sideways but inside the music (WCAG 2.2, 1.4.4 and 1.4.10)."""
    page.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": width // zoom, "height": 1000 // zoom, "deviceScaleFactor": zoom, "mobile": False}
    )
    try:
        wide, room = page.execute_script("return [document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    finally:
        page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert wide <= room


def test_accessibility_scan(page: Any) -> None:
    """axe-core (Deque's rules for WCAG 2 A and AA) finds nothing serious: page, an answering note, an opened reason."""
    pytest.importorskip("axe_core_python", reason="no axe-core: pip install '.[test]'")
    click(page, some(page, "#line-0 g.note.of-draft .hit")[4])
    unfold(page, "tr[data-kind=melody]:not([hidden])")
    page.execute_script(resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    found = page.execute_async_script("axe.run(document).then(arguments[0])")
    grave = [
        (rule["id"], rule["impact"], [node["html"][:120] for node in rule["nodes"][:3]], rule["nodes"][0]["failureSummary"])
        for rule in found["violations"]
        if rule["impact"] in ("serious", "critical")
    ]
    assert [] == grave
    assert len(found["passes"]) > 20


def test_five_hundred_bars_stay_usable(driver: Any, movement: Path) -> None:
    """The page of 500 bars is under 25 MB, opens in under 3 s, draws what comes near and nothing else, and jumps to its end."""
    page = movement / "review.html"
    assert page.stat().st_size < 25_000_000
    driver.get(page.as_uri())
    opened = driver.execute_script("const n = performance.getEntriesByType('navigation')[0]; return n.loadEventEnd")
    assert 0 < opened < 3000
    lines = len(some(driver, ".system"))
    assert len(some(driver, ".system svg.music")) < lines / 2
    assert 500 == len(some(driver, ".cell"))
    click(driver, some(driver, ".cell")[480])
    until(driver, "(document.activeElement.getAttribute('aria-label') || '').includes('bar 481 beat')")
    assert len(some(driver, ".system svg.music")) < lines / 2
    assert [] == driver.get_log("browser")


def test_served_the_page_writes_choices(driver: Any, served: Any) -> None:
    """From `reduce review --serve` the page writes what was chosen into choices.toml itself, and only there."""
    driver.get_log("browser")
    driver.get(served.url)
    driver.execute_script("localStorage.clear()")
    driver.refresh()
    click(driver, some(driver, "[data-lock]")[1])
    entry = one(driver, "#choices").get_attribute("value")
    click(driver, one(driver, "#save"))
    until(driver, "document.getElementById('tray-help').textContent.startsWith('1 choice written')")
    assert entry.strip() in served.choices.read_text(encoding="utf-8")
    assert "" == one(driver, "#choices").get_attribute("value")
    assert [] == driver.get_log("browser")
    one(driver, "#choices").send_keys("[[choice]]\nmelodie = 'Cello'")
    click(driver, one(driver, "#save"))
    until(driver, "document.getElementById('tray-help').textContent.includes('did you mean')")
    assert "melodie" not in served.choices.read_text(encoding="utf-8")
    driver.get_log("browser")  # the refusal is logged by the browser
