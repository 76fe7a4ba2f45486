"""A real browser without a window, and review pages to open in it."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reduce.cli import run
from reduce.reviewing import review_server
from tests import tiny

ROOT = Path(__file__).parents[2]
SWITCHES = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --autoplay-policy=user-gesture-required"
)
CHOICES = '[[choice]]\nbars = "9-16"\nmelody = "Cello"\nreason = "my pupils know the countermelody"\n'


@pytest.fixture(scope="session")
def driver(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Chromium, driven by selenium; tests skip where one of them is missing."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="no selenium: pip install '.[test]'")
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    chromedriver = shutil.which("chromedriver")
    if chromium is None or chromedriver is None:
        pytest.skip("no browser: the system has no chromium with chromedriver (apt-get install chromium chromium-driver)")
    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for switch in (*SWITCHES.split(), "--window-size=1280,1000", f"--user-data-dir={tmp_path_factory.mktemp('browser')}"):
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    found = webdriver.Chrome(options=options, service=webdriver.ChromeService(chromedriver))
    found.set_script_timeout(240)  # a machine with other work takes its time; no test measures it
    yield found
    found.quit()


@pytest.fixture(scope="session")
def waltz(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A draft folder of the sample waltz with a page, a choice of the arranger's among its decisions."""
    folder = tmp_path_factory.mktemp("pages")
    (folder / "choices.toml").write_text(CHOICES, encoding="utf-8")
    score = ROOT / "samples" / "ferry-landing-waltz.musicxml"
    asked = ("--level", "intermediate", "--choices", str(folder / "choices.toml"), "--out", str(folder / "waltz"))
    assert run(["draft", str(score), *asked]) == 0
    return folder / "waltz"


@pytest.fixture
def page(driver: Any, waltz: Path) -> Iterator[Any]:
    """The waltz's page, freshly opened.  Whatever a test does, the console stays silent and nothing leaves the page."""
    driver.get_log("browser")
    driver.get_log("performance")
    driver.get((waltz / "review.html").as_uri())
    driver.execute_script("try { localStorage.clear(); } catch { }")
    driver.refresh()
    yield driver
    assert driver.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    asked = [message["params"]["request"]["url"] for message in messages if message["method"] == "Network.requestWillBeSent"]
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []


MOVEMENT = """
meter 2/4
key E minor
tempo 120
Flute     | b5:8 a5 g5 f#5 | e5:4 g5      | f#5:8 g5 a5 b5 | b5:2        |
Violin 1  | e5:8 e5 e5 e5  | b4 b4 b4 b4  | c5 c5 d5 d5    | d#5 d#5 b4 b4 |
Viola     | g4:4 g4        | g4 g4        | a4 a4          | f#4 f#4     |
Cello     | e3:4 b2        | e3 d3        | c3 a2          | b2 b2       |
"""


@pytest.fixture(scope="session")
def movement(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A draft folder of 500 bars with its page."""
    folder = tmp_path_factory.mktemp("movement")
    head, parts = MOVEMENT.partition("Flute")[0], ("Flute" + MOVEMENT.partition("Flute")[2]).strip().splitlines()
    long = "\n".join(f"{name}|{bars.strip() * 125}" for name, _, bars in (line.partition("|") for line in parts))
    (folder / "long.musicxml").write_bytes(tiny.musicxml(head + long, "Long"))
    assert run(["draft", str(folder / "long.musicxml"), "--level", "advanced", "--out", str(folder / "long")]) == 0
    return folder / "long"


@pytest.fixture
def served(tmp_path: Path, waltz: Path) -> Iterator[Any]:
    """The waltz's folder, copied and served for writing."""
    shutil.copytree(waltz, tmp_path / "served")
    with review_server(tmp_path / "served") as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        yield server
        server.shutdown()
        thread.join()
