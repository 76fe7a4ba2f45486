"""What the composer wrote over the notes: loudness, slurs, strokes, words that bring a player forward."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reduce.analyse.lines import Grid, Line
from reduce.analyse.windows import window
from reduce.model.score import Mark, Score
from reduce.model.texture import Stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Dynamics as steps from the softest (common practice); a sudden accent counts where it stands.
_LOUDNESS = {"pppp": 0, "ppp": 1, "pp": 2, "p": 3, "mp": 4, "mf": 5, "f": 6, "ff": 7, "fff": 8, "ffff": 9, "fp": 3, "sfp": 3, "pf": 5}
_SUDDEN = {"sf", "sfz", "fz", "sffz", "rf", "rfz", "fp", "sfp", "sforzando", "rinf.", "rinforz."}
_FORWARD = ("solo", "soli", "dolce", "espr", "cantab", "cantando", "hervor", "marc", "obligato", "obbligato", "ausdrucksvoll", "con espr")
_PLUCKED, _BOWED = ("pizz",), ("arco",)
_MIDDLE = 4.5


def signs(score: Score, streams: Sequence[Stream], lines: Sequence[Line], grid: Grid) -> dict[str, NDArray[np.float32]]:
    """Measurements from the printed signs, one table [beat, stream] by name."""
    import numpy as np

    beats, count = len(grid.bars), len(streams)
    of_staff: dict[tuple[int, int], list[int]] = {}
    for stream in streams:
        of_staff.setdefault((stream.part, stream.staff), []).append(stream.id)
    loud = np.full((beats, count), np.nan, dtype=np.float32)
    sudden = np.zeros((beats, count), dtype=np.float32)
    forward = np.full((beats, count), -10_000, dtype=np.int64)
    plucked = np.full((beats, count), np.nan, dtype=np.float32)
    slurs: dict[int, list[tuple[int, int]]] = {}
    for mark in score.marks:
        players = of_staff.get((mark.part, mark.staff)) or of_staff.get((mark.part, 1), [])
        if not players:
            continue
        if mark.kind == "dynamic":
            _dynamic(mark, players, grid, loud, sudden)
        if mark.kind in ("text", "dynamic"):
            text = mark.text.lower()
            beat = grid.at(mark.onset)
            if any(word in text for word in _FORWARD):
                forward[beat, players] = beat
            if any(word in text for word in _PLUCKED):
                plucked[beat, players] = 1
            if any(word in text for word in _BOWED):
                plucked[beat, players] = 0
        elif mark.kind == "slur":
            for player in players:
                slurs.setdefault(player, []).append((mark.onset, mark.end))
    cells: dict[str, list[int]] = {name: [] for name in ("number", "legato", "short", "stressed", "trills")}  # beat and line, once a note
    for line in lines:
        spans = slurs.get(line.stream, [])
        place, reach = 0, -1
        beat = 0
        for note in line.notes:
            onset = note.onset
            while beat < beats - 1 and grid.starts[beat + 1] <= onset:
                beat += 1
            while place < len(spans) and spans[place][0] < onset:
                reach = max(reach, spans[place][1])
                place += 1
            cell = beat * count + line.stream
            cells["number"].append(cell)
            if onset <= reach:
                cells["legato"].append(cell)
            for sign in note.articulations:
                if sign in ("staccato", "staccatissimo", "spiccato"):
                    cells["short"].append(cell)
                elif sign in ("accent", "strong-accent", "tenuto", "detached-legato"):
                    cells["stressed"].append(cell)
            if note.ornaments:
                cells["trills"].append(cell)
    number, legato, short, stressed, trills = (
        np.bincount(np.array(found, dtype=np.int64), minlength=beats * count).reshape(beats, count).astype(np.float32)
        for found in cells.values()
    )
    bar = grid.per_bar
    loudness = _carried(loud, _MIDDLE)
    forward = np.maximum.accumulate(forward, axis=0)
    since = np.arange(beats)[:, None] - forward
    some = np.maximum(window(number, 2 * bar, 2 * bar), 1)
    playing = window(number, bar, bar) > 0
    together = np.where(playing, loudness, 0).sum(axis=1, keepdims=True) / np.maximum(playing.sum(axis=1, keepdims=True), 1)
    return {
        "sign-loud": loudness,
        "sign-louder": loudness - together,
        "sign-sudden": window(sudden, bar, bar),
        "sign-marked": np.exp(-np.maximum(since, 0) / (8.0 * bar)).astype(np.float32) * (since >= 0),
        "sign-plucked": _carried(plucked, 0.0),
        "sign-legato": window(legato, 2 * bar, 2 * bar) / some,
        "sign-short": window(short, 2 * bar, 2 * bar) / some,
        "sign-stressed": window(stressed, 2 * bar, 2 * bar) / some,
        "sign-trills": window(trills, bar, bar) / np.maximum(window(number, bar, bar), 1),
    }


def _dynamic(mark: Mark, players: list[int], grid: Grid, loud: Any, sudden: Any) -> None:
    """Enter one dynamic sign for the players of its staff."""
    text = mark.text.strip().lower()
    beat = grid.at(mark.onset)
    if text in _LOUDNESS:
        loud[beat, players] = _LOUDNESS[text]
    if text in _SUDDEN:
        sudden[beat, players] += 1


def _carried(table: Any, start: float) -> Any:
    """Each entry holds until the next one in its column; ``start`` before the first."""
    import numpy as np

    rows = np.where(np.isnan(table), -1, np.arange(len(table))[:, None])
    rows = np.maximum.accumulate(rows, axis=0)
    filled = np.take_along_axis(table, np.maximum(rows, 0), axis=0)
    return np.where(rows < 0, np.float32(start), filled).astype(np.float32)
