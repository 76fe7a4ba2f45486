"""Opens a score file: what is in it, within bounds, without following anything it points to."""

from __future__ import annotations

import hashlib
import io
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import Any

from lxml import etree

from reduce.model.errors import InputError
from reduce.model.record import dataclass

LARGEST_FILE = 200_000_000  # bytes on disk
LARGEST_SCORE = 300_000_000  # bytes unpacked: a 36-part symphony movement is about 30 million
MOST_MEMBERS = 2_000

_MARKUP_SUFFIXES = (".musicxml", ".xml")


@dataclass(frozen=True, slots=True)
class Opened:
    """The score's bytes; ``markup`` tells XML text from anything else, ``remarks`` what the opening noticed."""

    name: str
    suffix: str
    data: bytes
    markup: bool
    packed: bool
    digest: str
    remarks: tuple[str, ...] = ()


def open_score(path: Path) -> Opened:
    """The bytes of the score in ``path``, taken out of its archive where it is one.

    Raises InputError where there is no such file, it is no regular file, or it exceeds the bounds above.
    """
    name = path.name
    try:
        status = path.stat()
    except FileNotFoundError:
        raise InputError(f"There is no file {name!r}; check the name and the folder.") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{name!r} cannot be opened: {_reason(error)}.") from None
    if stat.S_ISDIR(status.st_mode):
        raise InputError(f"{name!r} is a folder; name a score file inside it.")
    if not stat.S_ISREG(status.st_mode):
        raise InputError(f"{name!r} is a device or a pipe, not a score file.")
    if status.st_size > LARGEST_FILE:
        raise InputError(f"{name!r} is larger than {LARGEST_FILE // 1_000_000} million bytes; no score of one movement is.")
    if status.st_size == 0:
        raise InputError(f"{name!r} is empty; export the score again.")
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise InputError(f"{name!r} cannot be read: {_reason(error)}.") from None
    digest = hashlib.sha256(data).hexdigest()
    suffix = path.suffix.lower()
    if data[:4] == b"PK\x03\x04":
        inner, data, remarks = _unpack(name, data)
        suffix = PurePosixPath(inner).suffix.lower()
        return Opened(name, suffix, data, looks_like_markup(data), True, digest, remarks)
    if suffix == ".mxl" and not looks_like_markup(data):
        raise InputError(
            f"{name!r} is not a complete compressed score (.mxl); it was perhaps cut off on the way: export or fetch it again."
        )
    return Opened(name, suffix, data, looks_like_markup(data), False, digest)


def looks_like_markup(data: bytes) -> bool:
    """Whether the first character that is no white space is '<', in any encoding XML allows."""
    head = data[:400]
    for mark in (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"):
        head = head.removeprefix(mark)
    return head.replace(b"\x00", b"").lstrip()[:1] == b"<"


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or "the name is not a possible file name").lower()


def _unpack(name: str, data: bytes) -> tuple[str, bytes, tuple[str, ...]]:
    """The score inside a .mxl archive: the first root its container names, else the first score in it."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = [info for info in archive.infolist() if not info.is_dir()]
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise InputError(
            f"{name!r} is not a complete compressed score; it was perhaps cut off on the way: export or fetch it again."
        ) from None
    if len(members) > MOST_MEMBERS:
        raise InputError(f"{name!r} holds {len(members)} files; a compressed score holds a handful.")
    by_name = {info.filename: info for info in members}
    remarks: list[str] = []
    roots = _container_roots(name, archive, by_name)
    known = [root for root in roots if root in by_name]
    if not known:
        known = [n for n in by_name if n.lower().endswith(_MARKUP_SUFFIXES) and not n.upper().startswith(("META-INF/", "__MACOSX/"))]
        if known:
            missing = "names a score that is not in it" if roots else "has no table of contents"
            remarks.append(f"The compressed file {missing}; its first score, {known[0]!r}, was read.")
    if not known:
        raise InputError(f"{name!r} is an archive without a MusicXML score in it.")
    if len(known) > 1:
        remarks.append(f"The compressed file holds {len(known)} scores; the first, {known[0]!r}, was read.")
    return known[0], _member(name, archive, by_name[known[0]]), tuple(remarks)


def _container_roots(name: str, archive: zipfile.ZipFile, by_name: dict[str, zipfile.ZipInfo]) -> list[str]:
    info = by_name.get("META-INF/container.xml")
    if info is None or info.file_size > 1_000_000:
        return []
    try:
        tree = etree.fromstring(_member(name, archive, info), strict_parser())
    except (etree.XMLSyntaxError, ValueError):
        return []
    found = []
    for root in tree.iter("{*}rootfile"):
        place = root.get("full-path")
        media = root.get("media-type") or "application/vnd.recordare.musicxml+xml"
        if place and "xml" in media:
            found.append(place)
    return found


def _member(name: str, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Read one file of the archive, at most ``LARGEST_SCORE`` bytes whatever its header claims."""
    try:
        with archive.open(info) as stream:
            data = stream.read(LARGEST_SCORE + 1)
    except (zipfile.BadZipFile, zlib.error, RuntimeError, OSError, EOFError, NotImplementedError, ValueError):
        raise InputError(f"The score inside {name!r} is damaged or locked; export or fetch it again.") from None
    if len(data) > LARGEST_SCORE:
        raise InputError(f"{name!r} unpacks to more than {LARGEST_SCORE // 1_000_000} million bytes; that is no score.")
    return data


def strict_parser() -> etree.XMLParser:
    """An XML parser that opens nothing but the text it is given; the space between elements, half of a tree, is left out."""
    return etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False,
        remove_comments=True, remove_pis=True, remove_blank_text=True,
    )  # fmt: skip


def parse_markup(opened: Opened) -> etree._Element:
    """The element tree of the score.

    Raises InputError where the text is not well-formed or defines entities (which a score never needs and an attacker does).
    """
    try:
        root = etree.fromstring(opened.data, strict_parser())
    except etree.XMLSyntaxError as error:
        line = f" near line {error.lineno}" if error.lineno else ""
        raise InputError(f"{opened.name!r} is not well-formed XML{line}; it is perhaps damaged or cut off: export it again.") from None
    except ValueError:
        raise InputError(f"{opened.name!r} is not readable as XML; export it again.") from None
    dtd: Any = root.getroottree().docinfo.internalDTD
    if dtd is not None and next(iter(dtd.iterentities()), None) is not None:
        raise InputError(f"{opened.name!r} defines entities of its own, which a score never needs; it was refused for safety.")
    return root
