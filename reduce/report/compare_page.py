"""The comparison of two drafts as one page: what differs in words, and both drafts under each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from reduce.report.compare import HANDS, Side, notes_by_bar, struck
from reduce.report.compare_text import bar_words, because, summary
from reduce.report.review.material import Drawn
from reduce.report.review.page import asset, data_html, glyphs_html, head, script_html
from reduce.report.review.sections import BEYOND, svg


def comparison_page(
    told: Mapping[str, Any],
    sides: tuple[Side, Side],
    lines: Sequence[Drawn],
    glyphs: Mapping[str, str],
    ids: tuple[Sequence[str], Sequence[str]],
    numbers: Sequence[str],
    space: float,
) -> str:
    """One offline page.

    Args:
        told: the comparison.
        sides: what was compared.
        lines: the bars both drafts have, the first draft above the second; notes are called 'a' or 'b' and their place in ``ids``.
        glyphs: signs of the drawings.
        ids: note ids of both drafts by their place in the drawings.
        numbers: printed numbers of the bars drawn.
        space: units of the drawings between two staff lines.
    """
    title = f"{told['before']} and {told['after']} compared"
    data = {"space": space, "marks": _marks(told, sides, ids), "bars": [row["bar"] for row in told["bars"]]}
    rows = "".join(_row(row, numbers) for row in told["bars"])
    table = (
        '<table><thead><tr><th scope="col">Bar</th><th scope="col">What differs</th><th scope="col">Because of</th>'
        f'<th scope="col">Decisions</th></tr></thead><tbody>{rows}</tbody></table>'
        if rows
        else "<p>No bar differs.</p>"
    )
    asked = "".join(f"<li>{escape(cause['sentence'])}</li>" for cause in told["different"]) or "<li>nothing</li>"
    music = "".join(_line(line, k, told, numbers) for k, line in enumerate(lines))
    return "\n".join(
        [
            *head(title, script := asset("compare.js")),
            "<body>",
            glyphs_html(glyphs),
            f'<header><h1>{escape(told["before"])} <small>and</small> {escape(told["after"])}</h1></header><main id="main">',
            f'<p class="verdict">{escape(summary(told)[0].upper() + summary(told)[1:])}</p>',
            f'<section aria-labelledby="asked"><h2 id="asked">What was asked for differently</h2><ul>{asked}</ul></section>',
            f'<section aria-labelledby="bars" class="reasons"><h2 id="bars">Bars that differ</h2>{_only(told)}{table}</section>',
            '<section aria-labelledby="music"><h2 id="music">Both drafts</h2><p class="small">'
            f"{escape(told['before'])} above, {escape(told['after'])} below. Notes that only one of them has are marked: "
            '<span class="gone-word">× above</span>, <span class="new-word">+ below</span>, ~ another length.</p>',
            music or "<p>They have no bars in common.</p>",
            "</section></main>",
            data_html(data),
            script_html(script),
            "</body>",
            "</html>",
            "",
        ]
    )


def _row(row: Mapping[str, Any], numbers: Sequence[str]) -> str:
    bar = escape(row["bar"])
    place = f'<a href="#bar-{list(numbers).index(row["bar"])}">{bar}</a>' if row["bar"] in numbers else bar
    was = "".join(f"<li>before: {escape(sentence)}</li>" for sentence in row["was"][:4])
    now = "".join(f"<li>now: {escape(sentence)}</li>" for sentence in row["is"][:4])
    words = bar_words(row)
    return (
        f"<tr><td>{place}</td><td>{escape(words[0].upper() + words[1:])}</td><td>{escape(because(row))}</td>"
        f'<td><ul class="refused">{was}{now}</ul></td></tr>'
    )


def _only(told: Mapping[str, Any]) -> str:
    return "".join(
        f"<p>Only {escape(told[side])} has bars {escape(', '.join(told[name]))}.</p>"
        for side, name in (("before", "only_before"), ("after", "only_after"))
        if told[name]
    )


def _line(line: Drawn, k: int, told: Mapping[str, Any], numbers: Sequence[str]) -> str:
    first, last = numbers[line.bars[0]], numbers[line.bars[1] - 1]
    where = f"Bars {first}–{last}" if first != last else f"Bar {first}"
    differ = [row["bar"] for row in told["bars"] if row["bar"] in numbers[line.bars[0] : line.bars[1]]]
    note = f"differ in {', '.join(differ)}" if differ else "alike"
    anchors = "".join(f'<span id="bar-{place}"></span>' for place in range(*line.bars))
    width, height = line.view[0] + BEYOND, line.view[1]
    return (
        f'<figure class="system" data-line="{k}">{anchors}<figcaption><h3>{escape(where)}</h3> <span class="small">{escape(note)}</span>'
        f'</figcaption><div class="line drawn" style="--shape: {width} / {height}; --tall: {height / width:.4f}">'
        f"{svg(line, f'{where}, {note}')}</div></figure>"
    )


def _marks(told: Mapping[str, Any], sides: tuple[Side, Side], ids: tuple[Sequence[str], Sequence[str]]) -> list[list[str]]:
    """The drawn notes to mark: name in the drawing, sign."""
    wanted: dict[tuple[str, str], dict[str, set[tuple[float, int]]]] = {}
    for row in told["bars"]:
        for hand in HANDS:
            for what, notes in row[hand].items():
                found = wanted.setdefault((row["bar"], hand), {})
                found.setdefault(what, set()).update((float(note["beat"]), int(note["midi"])) for note in notes)
    marks = []
    for side, letter, kinds, names in zip(sides, "ab", (("removed", "gone"), ("added", "added")), ids, strict=True):
        places = {name: place for place, name in enumerate(names)}
        shift = told["moved_semitones"] if letter == "b" else 0
        for bar, start, note in notes_by_bar(side.draft):
            one = struck(note, start, side.draft.resolution, shift)
            where = (round(float(one.onset), 3), one.midi)
            found = wanted.get((bar[0], note.hand), {})
            if note.id not in places:
                continue
            if where in found.get(kinds[0], ()):
                marks.append([f"{letter}{places[note.id]}", kinds[1]])
            elif where in found.get("length", ()):
                marks.append([f"{letter}{places[note.id]}", "rhythm"])
    return marks
