"""What a printed set is made of: pages for a reader, and the blocks that stand on them."""

from __future__ import annotations

from typing import Literal

from reduce.model.draft import Draft, DraftNote
from reduce.model.pitch import Pitch
from reduce.model.record import dataclass
from reduce.model.score import Key, Meter

Reader = Literal["pupil", "teacher"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heads:
    """One chord as note heads without rhythm.

    ``upper`` and ``lower`` are its notes as they lie in the right and the left hand, low to high; ``thirds`` the same chord piled in
    thirds, root first; of these, ``silent`` do not sound and stand in brackets.  ``under`` are the lines of words below it.
    """

    upper: tuple[Pitch, ...]
    lower: tuple[Pitch, ...]
    thirds: tuple[Pitch, ...]
    silent: tuple[Pitch, ...] = ()
    under: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadsBar:
    """A bar of a chord worksheet; ``number`` as printed."""

    number: str
    key: Key
    pickup: bool = False
    last: bool = False
    heads: tuple[Heads, ...] = ()


@dataclass(frozen=True, kw_only=True)
class HeadsSheet:
    """A piece as chords: three staves, the upper two as the chords lie in the piece, the third in thirds.

    ``names``: what the two kinds of staves are called; ``about`` the draft whose title and people it carries.
    """

    about: Draft
    names: tuple[str, str]
    bars: tuple[HeadsBar, ...]


@dataclass(frozen=True, kw_only=True)
class Rhythm:
    """A rhythm to clap, on one line: durations of ``notes`` (pitches are not printed) on ``about``'s bars ``first`` to ``last``."""

    about: Draft
    notes: tuple[DraftNote, ...]
    meter: Meter
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One of several who play together; ``size`` of the staves as a share of the others'."""

    name: str
    short: str
    draft: Draft
    size: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Ensemble:
    """Pieces with the same bars under each other."""

    players: tuple[Player, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A paragraph; ``look``: plain, small (remarks), bold (a line that leads), caution (framed)."""

    text: str
    look: Literal["plain", "small", "bold", "caution"] = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list; ``mark``: bullet, number, or a box to tick."""

    items: tuple[str, ...]
    mark: Literal["bullet", "number", "box"] = "bullet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """Boxes to tick in one line, each with its words; signs of note values are those of the music font (SMuFL)."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under a head; ``shares`` of the width by column."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Music:
    """Engraved music: the bars ``first`` to ``last`` (indices) of a sheet.

    ``size`` share of the level's staff height; ``bars_a_line`` wanted (0 = as it falls); ``label`` a line of words above it.
    ``name`` is what its own file is called ('' = none).
    """

    sheet: Draft | HeadsSheet | Rhythm | Ensemble
    first: int = 0
    last: int = -1
    size: float = 1.0
    bars_a_line: int = 0
    label: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """A picture of a keyboard: pressed keys (MIDI number, label on the key), caption below; ``blank`` leaves room to write it."""

    pressed: tuple[tuple[int, str], ...]
    caption: str = ""
    blank: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyboards:
    pictures: tuple[Keys, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """How hard each bar is: ``heights`` with ``labels`` (bar numbers), ``black`` the indices that stand out, ``line`` the usual height."""

    heights: tuple[float, ...]
    labels: tuple[str, ...]
    black: frozenset[int]
    line: float


Block = Heading | Text | Items | Boxes | Table | Music | Keyboards | Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Pages on one subject, beginning on a new page."""

    name: str
    title: str
    readers: tuple[Reader, ...]
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Booklet:
    """The whole set.

    ``line`` stands at the head of each page (bars, level), ``foot`` and ``caution`` at its foot; ``page_word`` as in 'page 3'.
    ``language`` is that of the words (ISO 639-1); ``files`` is music that is handed over as files only, not printed.
    """

    title: str
    author: str
    line: str
    foot: str
    caution: str
    language: str
    page_word: str
    sections: tuple[Section, ...]
    files: tuple[Music, ...] = ()
