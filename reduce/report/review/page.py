"""The review page put together: markup, data, drawings, style and script in one file that asks no network."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from functools import cache
from html import escape
from importlib import resources
from typing import Any

from reduce.report.review.index import ROLES, Index
from reduce.report.review.material import Drawn, Material
from reduce.report.review.sections import bar_by_bar, decided, doubts, hard, opening, player, reasons, words_of
from reduce.report.review.story import verdict_line

SCRIPTS = ("data.js", "music.js", "synth.js", "player.js", "choices.js", "card.js", "reasons.js", "keys.js")
DRAWN_AT_ONCE = 3
"""Lines of music that stand in the page itself; the others are drawn when they come into view."""


def page(material: Material) -> str:
    """The review page of a draft as HTML.

    Equal material gives equal text.  Nothing in it refers to the network, and what a score file says is shown as text only.
    """
    index = Index(material)
    title = str(material.facts["source"]["title"] or material.facts["source"]["file"] or "Piano draft")
    script = "(() => {\n" + "\n".join(asset(name) for name in SCRIPTS) + "\n})();"
    return "\n".join(
        [
            *head(f"{title}: review of the piano draft", script, connect=material.served),
            f'<body data-served="{"yes" if material.served else "no"}">',
            '<a class="skip" href="#bars">To the music, bar by bar</a>',
            glyphs_html(material.glyphs),
            "<header>",
            f"<h1>{escape(title)} <small>review of the piano draft</small></h1>",
            "</header>",
            '<main id="main">',
            opening(index),
            f'<p id="verdict" class="verdict">{escape(verdict_line(index))}</p>',
            doubts(index),
            decided(index),
            hard(index),
            bar_by_bar(index, DRAWN_AT_ONCE),
            reasons(index),
            "</main>",
            player(index),
            '<aside id="card" class="card" aria-label="About this note" tabindex="-1" hidden></aside>',
            '<div id="said" class="unseen" role="status" aria-live="polite"></div>',
            _drawings(material),
            data_html(_data(index)),
            script_html(script),
            "</body>",
            "</html>",
            "",
        ]
    )


def _data(index: Index) -> dict[str, Any]:
    material = index.material
    facts = material.facts
    return {
        "key": f"{facts['source']['sha256'][:16]}/{facts['settings']['level']}",
        "level": facts["settings"]["level"],
        "space": material.space,
        "bars": index.bars(),
        "tempos": index.tempos(),
        "order": list(material.order),
        "draft": index.draft_notes(),
        "source": index.source_notes(),
        "rows": index.source_rows(),
        "parts": index.parts,
        "roles": ROLES,
        "lines": [list(line.bars) for line in material.lines],
        "decisions": [words_of(row, index) for row in material.decisions],
        "shift": int(facts["draft"]["transposed_semitones"]),
    }


def head(title: str, script: str, *, connect: bool = False) -> list[str]:
    """The beginning of a page that runs one script and asks nobody anything (``connect``: but the program that served it)."""
    policy = (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{_digest(script)}'; img-src data:; "
        f"connect-src {chr(39)}{'self' if connect else 'none'}{chr(39)}; base-uri 'none'; form-action 'none'"
    )
    return [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<link rel="icon" href="data:,">',
        f"<title>{escape(title)}</title>",
        f"<style>\n{asset('page.css')}</style>",
        "</head>",
    ]


def data_html(data: Mapping[str, Any]) -> str:
    """What the script works on; no text of a file can end the element."""
    told = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return f'<script type="application/json" id="data">{told}</script>'


def script_html(script: str) -> str:
    """The script as `head` has allowed it."""
    return f"<script>{script}</script>"


def glyphs_html(glyphs: Mapping[str, str]) -> str:
    """The signs that all drawings use, once."""
    drawn = "".join(f'<g id="{code}">{drawing}</g>' for code, drawing in sorted(glyphs.items()))
    return f'<svg class="glyphs" aria-hidden="true" focusable="false" width="0" height="0"><defs>{drawn}</defs></svg>'


def _drawings(material: Material) -> str:
    """The lines that wait for their turn: inert text, which costs the browser nothing until it is drawn."""
    waiting = enumerate(material.lines[DRAWN_AT_ONCE:], DRAWN_AT_ONCE)
    return "\n".join(f'<script type="text/plain" id="drawing-{k}">{inert(line)}</script>' for k, line in waiting)


def inert(line: Drawn) -> str:
    """A drawing as text that cannot end the element it stands in (SVG text has no bare '<', so this changes nothing that is drawn)."""
    return line.body.replace("</script", "&lt;/script").replace("<!--", "&lt;!--")


@cache
def asset(name: str) -> str:
    """A file of style or script beside this module."""
    return resources.files("reduce.report.review").joinpath(name).read_text(encoding="utf-8")


def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
