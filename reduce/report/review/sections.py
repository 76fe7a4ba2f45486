"""The sections of the review page as HTML, in the order in which a teacher looks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

from reduce.report.facts import UNSURE
from reduce.report.reasons import Reason, grouped
from reduce.report.review.index import Index
from reduce.report.review.material import Drawn, Row
from reduce.report.review.offers import TAKEN, offers
from reduce.report.review.story import Cell, headlines, number, strip

GRADES = ("light", "easy", "usual", "full", "heavy")
BEYOND = 120
"""Units to the right of the last bar line, which would else touch the frame."""


def words_of(row: Row, index: Index) -> dict[str, Any]:
    """A decision as the page's script needs it; empty things are left out."""
    told: dict[str, Any] = {name: row[name] for name in ("kind", "bars", "hand", "weight", "sentence", "by")}
    told["sure"] = row["certainty"]
    told |= {name: row[name] for name in ("rule", "setting", "unit") if row[name]}
    told |= {name: row[name] for name in ("measured", "limit") if row[name] is not None}
    refused = refusals(row)
    answers = offers(row, index)
    span = index.span(row["bars"])
    return told | {k: v for k, v in (("refused", refused), ("offers", answers), ("at", span)) if v}


def refusals(row: Row) -> list[str]:
    """What was weighed, in words; a table of candidates may hold the one that was taken."""
    return [f"{'' if other['what'].endswith(TAKEN) else 'not '}{other['what']}: {other['why']}" for other in row["rejected"]]


def opening(index: Index) -> str:
    """Is it the tune?  The first line of the draft and a button to hear it."""
    line = index.material.opening
    if line is None:
        return '<section aria-labelledby="tune"><h2 id="tune">Is it the tune?</h2><p>The draft has no bars.</p></section>'
    last = index.numbers[min(line.bars[1], len(index.numbers)) - 1]
    return (
        '<section aria-labelledby="tune"><h2 id="tune">Is it the tune?</h2>'
        f'<p class="act"><button type="button" class="main-button" data-play="0-{line.bars[1] - 1}">Play the first line</button> '
        f"bars {escape(index.numbers[0])}–{escape(last)} of the draft</p>"
        f'<div class="line drawn" data-opening>{svg(line, f"First line of the draft, bars {index.numbers[0]} to {last}")}</div></section>'
    )


def svg(line: Drawn, label: str) -> str:
    """A drawing that keeps its size on paper and fills the column on a screen."""
    width, height = line.view[0] + BEYOND, line.view[1]
    return f'<svg class="music" viewBox="0 0 {width} {height}" role="group" aria-label="{escape(label)}">{line.body}</svg>'


def doubts(index: Index) -> str:
    """What was not understood: doubts in full, mere remarks folded."""
    found = [row for row in index.material.facts["doubts"] if row["severity"] != "note"]
    remarks = [row for row in index.material.facts["doubts"] if row["severity"] == "note"]
    body = f'<ul class="doubts">{"".join(_doubt(row) for row in found)}</ul>' if found else "<p>Everything in the score was understood.</p>"
    if remarks:
        body += (
            f"<details><summary>{number(len(remarks), 'remark')} about the file</summary>"
            f"<ul>{''.join(_doubt(row) for row in remarks)}</ul></details>"
        )
    return f'<section aria-labelledby="doubts"><h2 id="doubts">What was not understood</h2>{body}</section>'


def _doubt(row: Mapping[str, str]) -> str:
    place = ", ".join(filter(None, (row["part"], f"bar {row['bar']}" if row["bar"] else "")))
    return f"<li>{f'<b>{escape(place)}:</b> ' if place else ''}{escape(row['sentence'])}</li>"


def decided(index: Index) -> str:
    """At most eight big decisions; each leads to its reasons."""
    lines = []
    for line in headlines(index):
        rows = " ".join(map(str, line.rows))
        lines.append(
            f'<div class="headline"><dt>{escape(line.topic)}</dt><dd>{escape(line.sentence)} '
            f'<button type="button" class="more" data-rows="{rows}">{number(len(line.rows), "reason")} '
            f'<span class="unseen">about: {escape(line.topic)}</span></button></dd></div>'
            if line.rows
            else f'<div class="headline"><dt>{escape(line.topic)}</dt><dd>{escape(line.sentence)}</dd></div>'
        )
    return f'<section aria-labelledby="decided"><h2 id="decided">What was decided</h2><dl>{"".join(lines)}</dl></section>'


def hard(index: Index) -> str:
    """Where it is hard: a cell a bar, the hard spots with an easier way, breaches of the level."""
    facts = index.material.facts
    cells = "".join(_cell(cell, place) for place, cell in enumerate(strip(index)))
    spots = "".join(
        f"<li>{_to_bar(spot['bar'], index)}{_hand(spot)}: {escape(spot['sentence'].rstrip('.'))}.{_also(spot.get('also', ()), index)}"
        f"{_remark(spot.get('easier', ''))}{_remark(spot.get('caution', ''))}</li>"
        for spot in facts.get("hard_spots", ())
    )
    breaches = facts["breaches"]
    grave = "".join(_breach(row, index) for row in breaches if row["hard"])
    soft = [row for row in breaches if not row["hard"]]
    told = f'<h3>Breaks the level</h3><ul class="doubts">{grave}</ul>' if grave else ""
    told += f"<h3>Hard spots</h3><ul>{spots}</ul>" if spots else "<p>No hard spots were found.</p>"
    if soft:
        listed = "".join(_breach(row, index) for row in soft)
        told += f"<details><summary>{number(len(soft), 'thing')} to weigh</summary><ul>{listed}</ul></details>"
    legend = ", ".join(f"{grade} {word}" for grade, word in enumerate(GRADES, 1))
    return (
        '<section aria-labelledby="hard"><h2 id="hard">Where it is hard</h2>'
        f'<p class="small">One cell a bar: its number, its load ({legend}; measured against this piece), ! for a hard spot.</p>'
        f'<ol class="strip" aria-label="Load bar by bar">{cells}</ol>{told}</section>'
    )


def _cell(cell: Cell, place: int) -> str:
    words = [f"Bar {cell.number}: {GRADES[cell.grade - 1]}, load {cell.grade} of 5"]
    if cell.heavy:
        words.append("more at once than the level allows")
    words += cell.spots
    most = ", ".join(f"{name} {share:.0%}" for name, share in cell.parts[:3])
    sign = "!" if cell.spots else ""
    return (
        f'<li><a class="cell load{cell.grade}{" heavy" if cell.heavy else ""}" href="#bar-{place}" data-bar="{place}" '
        f'aria-label="{escape(". ".join(words))}" title="{escape(". ".join([*words, most]))}">'
        f'<span class="cell-bar">{escape(cell.number)}</span><span class="cell-load">{cell.grade}{sign}</span></a></li>'
    )


def _to_bar(name: str, index: Index) -> str:
    place = index.by_number.get(name)
    return f"Bar {escape(name)}" if place is None else f'<a href="#bar-{place}" data-bar="{place}">Bar {escape(name)}</a>'


def _hand(row: Mapping[str, Any]) -> str:
    return "" if row["hand"] == "both" else f", {escape(row['hand'])} hand"


def _also(bars: Sequence[str], index: Index) -> str:
    if not bars:
        return ""
    return f" Also in {', '.join(_to_bar(bar, index).replace('Bar ', 'bar ') for bar in bars)}."


def _remark(text: str) -> str:
    return f' <span class="remark">{escape(text.rstrip("."))}.</span>' if text else ""


def _breach(row: Mapping[str, Any], index: Index) -> str:
    more = f" ({row['count']} places in this bar)" if row["count"] > 1 else ""
    return f"<li>{_to_bar(row['bar'], index)}{_hand(row)}: {escape(row['sentence'].rstrip('.'))}{more}.</li>"


def bar_by_bar(index: Index, at_once: int) -> str:
    """The source above the draft, line by line; lines after the first few are empty frames until they come into view."""
    lines = "".join(_system(k, line, index, drawn=k < at_once) for k, line in enumerate(index.material.lines))
    legend = (
        '<ul class="legend" aria-label="Signs beside the notes">'
        '<li class="tune"><span aria-hidden="true">▲</span> tune</li><li class="bass"><span aria-hidden="true">▼</span> bass</li>'
        '<li class="inner">no sign: inner note</li>'
        '<li><span aria-hidden="true">↕</span> in another octave</li><li><span aria-hidden="true">~</span> in another rhythm</li>'
        '<li><span aria-hidden="true">+</span> added</li><li><span aria-hidden="true">=</span> doubles another note</li>'
        '<li><span aria-hidden="true">×</span> left out</li></ul>'
    )
    return (
        '<section aria-labelledby="bars" class="bars"><h2 id="bars" tabindex="-1">Bar by bar</h2>'
        '<p class="small">The orchestra at sounding pitch above, the piano draft below, under the same bar numbers. '
        "Click a note, or reach the music with Tab, walk with the arrow keys and press Enter: the note tells what it stands for "
        "and why.</p>"
        f'{legend}<p class="act"><label><input type="checkbox" id="show-signs" checked> show the signs</label> '
        '<label><input type="checkbox" id="single-keys" checked> single keys: P play, N next hard or doubtful bar, B the one before, '
        f"L lock the bar</label></p>{lines}</section>"
    )


def _system(k: int, line: Drawn, index: Index, drawn: bool) -> str:
    """A line of music with its bars in words, or its empty frame of the same shape."""
    first, last = index.numbers[line.bars[0]], index.numbers[line.bars[1] - 1]
    plain = f"Bars {first}–{last}" if first != last else f"Bar {first}"
    where = escape(plain)
    anchors = "".join(f'<span id="bar-{place}"></span>' for place in range(*line.bars))
    span = f"{line.bars[0]}-{line.bars[1] - 1}"
    width, height = line.view[0] + BEYOND, line.view[1]
    shape = f"--shape: {width} / {height}; --tall: {height / width:.4f}; --mm: {line.width:g}mm"
    return (
        f'<figure class="system" data-line="{k}">{anchors}<figcaption><h3>{where}</h3>'
        f'<button type="button" data-play="{span}">Play<span class="unseen"> {where}</span></button>'
        f'<button type="button" data-lock="{span}">Lock<span class="unseen"> {where}</span></button></figcaption>'
        f'<div class="line{" drawn" if drawn else ""}" id="line-{k}" data-view="{width} {height}" data-label="{where}" '
        f'style="{shape}">{svg(line, f"{plain}: the orchestra above, the piano draft below") if drawn else ""}</div></figure>'
    )


def player(index: Index) -> str:
    """The player at the foot of the page."""
    numbers = index.numbers or [""]
    return (
        '<section class="player" aria-label="Listen"><div class="controls">'
        '<button type="button" id="play" class="main-button" aria-pressed="false">Play</button>'
        '<label>What <select id="what"><option value="draft">Draft</option><option value="right">Right hand</option>'
        '<option value="left">Left hand</option><option value="source">Orchestra, condensed</option></select></label>'
        '<label>Speed <input type="range" id="speed" min="30" max="130" step="5" value="100"> '
        '<output id="speed-said" for="speed">100 %</output></label>'
        '<label><input type="checkbox" id="click"> click</label>'
        f'<label>from bar <input id="from" size="4" value="{escape(numbers[0])}"></label>'
        f'<label>to bar <input id="to" size="4" value="{escape(numbers[-1])}"></label>'
        '<label><input type="checkbox" id="loop"> loop</label>'
        '<label><input type="checkbox" id="follow" checked> follow</label>'
        '<span id="where" class="where">stopped</span></div></section>'
    )


def reasons(index: Index) -> str:
    """The full list with its filters, equal reasons told once; small ones are folded until they are asked for."""
    rows = index.material.decisions
    place_of = {row["id"]: place for place, row in enumerate(rows)}
    told = grouped([dict(row) for row in rows])
    kinds = sorted({str(row["kind"]) for row in rows})
    body = "".join(_reason(reason, place_of[reason.row["id"]], index) for reason in told)
    return (
        '<section aria-labelledby="reasons" class="reasons"><h2 id="reasons" tabindex="-1">All reasons</h2>'
        '<form class="filters" id="filters" aria-label="Which reasons to show">'
        f"{_select('kind', 'Kind', [('', 'all kinds'), *((kind, kind) for kind in kinds)])}"
        f"{_select('weight', 'Weight', [('medium', 'big and medium'), ('big', 'big'), ('all', 'small ones too')])}"
        f"{_select('sure', 'Certainty', [('', 'all'), ('unsure', 'not sure'), ('sure', 'sure')])}"
        f"{_select('hand', 'Hand', [('', 'both'), ('right', 'right'), ('left', 'left')])}"
        '<label>Bar <input id="filter-bar" size="4" autocomplete="off"></label>'
        '<button type="button" id="filter-clear">Clear the filters</button>'
        '<span id="shown" class="small" role="status"></span></form>'
        '<table><caption class="unseen">The decisions behind the draft</caption><thead><tr>'
        f"{''.join(f'<th scope=col>{head}</th>' for head in ('Bars', 'Hand', 'Kind', 'Weight', 'Sure', 'Reason'))}</tr></thead>"
        f"<tbody>{body}</tbody></table></section>" + _tray(index)
    )


def _select(name: str, label: str, options: Iterable[tuple[str, str]]) -> str:
    told = "".join(f'<option value="{escape(value)}">{escape(words)}</option>' for value, words in options)
    return f'<label>{label} <select id="filter-{name}">{told}</select></label>'


def _reason(reason: Reason, place: int, index: Index) -> str:
    row = reason.row
    span = index.span(row["bars"])
    bars = row["bars"][0] if row["bars"][0] == row["bars"][1] else f"{row['bars'][0]}–{row['bars'][1]}"
    linked = escape(bars) if span is None else f'<a href="#bar-{span[0]}" data-bar="{span[0]}">{escape(bars)}</a>'
    spans = [span, *(index.span(list(other)) for other in reason.also)]
    at = " ".join(f"{first}-{last}" for first, last in filter(None, spans))
    same = f' <span class="remark">{escape(reason.again)}</span>' if reason.also else ""
    hers = ' <span class="remark">(your choice)</span>' if row["by"] == "arranger" else ""
    refused = "".join(f"<li>{escape(words)}</li>" for words in refusals(row))
    unsure = float(row["certainty"]) < UNSURE
    return (
        f'<tr id="reason-{place}" data-i="{place}" data-kind="{escape(row["kind"])}" data-weight="{escape(row["weight"])}" '
        f'data-sure="{"unsure" if unsure else "sure"}" data-hand="{escape(row["hand"])}" data-at="{at}">'
        f"<td>{linked}</td><td>{escape(row['hand'])}</td><td>{escape(row['kind'])}</td><td>{escape(row['weight'])}</td>"
        f"<td{' class=unsure' if unsure else ''}>{round(100 * float(row['certainty']))} %{' ?' if unsure else ''}</td>"
        f"<td>{escape(row['sentence'])}{same}{hers}{f'<ul class=refused>{refused}</ul>' if refused else ''}"
        f'<details class="answer" data-i="{place}"><summary>Figures, setting, your answer</summary></details></td></tr>'
    )


def _tray(index: Index) -> str:
    where = "your choices.toml" if index.material.served else "choices.toml in the draft folder"
    save = '<button type="button" id="save">Write into choices.toml</button>' if index.material.served else ""
    return (
        '<section aria-labelledby="tray" class="tray"><h2 id="tray">Your choices</h2>'
        f'<p id="tray-help">What you answer on this page gathers here as text. It belongs into {where}; the next run obeys it.</p>'
        '<p><label for="choices">Entries</label></p>'
        '<textarea id="choices" rows="8" spellcheck="false" aria-describedby="tray-help"></textarea>'
        f'<p class="act"><button type="button" id="copy">Copy</button> <button type="button" id="clear">Empty</button> {save}</p></section>'
    )
