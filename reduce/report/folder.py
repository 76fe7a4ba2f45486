"""The draft folder: written whole or not at all, and never over what a person has changed."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from reduce.model.errors import UsageError

MANIFEST = ".written.sha256"
"""Says what the tool wrote, so that a person's changes are seen later; the format of the usual checksum tools."""


def draft_folder(score: Path, level: str) -> Path:
    """Where a draft goes when no folder is named: the score's name plus the level, in the current folder."""
    name = score.name
    for suffix in (".musicxml", ".mxl", ".xml", ".mid", ".midi", ".krn", ".mei", ".abc"):
        if name.lower().endswith(suffix):
            name = name[: -len(suffix)]
            break
    return Path(f"{name}-{level}")


def check_folder(target: Path, *, replace: bool = False) -> None:
    """Raises `UsageError` where writing to ``target`` would overwrite what is not the tool's own work."""
    if target.exists() and not target.is_dir():
        raise UsageError(f"{target} is a file: name another folder with --out.")
    if replace or not target.is_dir() or not any(target.iterdir()):
        return
    written = _manifest(target)
    if not written:
        raise UsageError(f"{target} holds files that are not a draft: name another folder with --out, or say --replace.")
    edited = [name for name, digest in written.items() if (target / name).exists() and _digest((target / name).read_bytes()) != digest]
    if edited:
        raise UsageError(f"{target} was edited by hand ({', '.join(edited)}): name another folder with --out, or say --replace.")


def intact(folder: Path, names: Iterable[str]) -> bool:
    """Whether the tool wrote a draft with these files into ``folder``, and every file it wrote is still there as written."""
    written = _manifest(folder)
    return set(names) <= set(written) and all(
        (folder / name).is_file() and _digest((folder / name).read_bytes()) == digest for name, digest in written.items()
    )


def write_folder(target: Path, files: Mapping[str, bytes], *, replace: bool = False) -> None:
    """Puts ``files`` (name: content) into ``target``, all or none; other files that a person put there stay.

    ``replace`` allows writing over edited files.  Raises `UsageError` where the folder was edited or cannot be written.
    """
    target = Path(os.path.abspath(target))
    check_folder(target, replace=replace)
    parent = target.parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
        new = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=parent))
    except OSError as error:
        raise UsageError(f"Cannot write into {parent} ({error.strerror}): name another folder with --out.") from None
    try:
        if target.is_dir():
            _carry_over(target, new, set(files) | set(_manifest(target)) | {MANIFEST})
        for name, content in files.items():
            _write(new / name, content)
        _write(new / MANIFEST, "".join(f"{_digest(content)}  {name}\n" for name, content in files.items()).encode())
        new.chmod(0o777 & ~_umask())
        _swap(new, target)
    except OSError as error:
        raise UsageError(f"Cannot write {target} ({error.strerror}): make room or name another folder with --out.") from None
    finally:
        shutil.rmtree(new, ignore_errors=True)


def refresh(target: Path, name: str, content: bytes) -> None:
    """Makes one of the tool's own files in a draft folder anew; what a person edited beside it is left alone and stays known as edited.

    Raises `UsageError` where it cannot be written.
    """
    write_file(target / name, content)
    written = {**_manifest(target), name: _digest(content)}
    write_file(target / MANIFEST, "".join(f"{digest}  {file}\n" for file, digest in written.items()).encode())


def write_file(target: Path, content: bytes) -> None:
    """Puts one file in its place, whole or not at all.  Raises `UsageError` where it cannot be written."""
    target = Path(os.path.abspath(target))
    if target.is_dir():
        raise UsageError(f"{target} is a folder: name a file.")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        os.close(handle)
    except OSError as error:
        raise UsageError(f"Cannot write into {target.parent} ({error.strerror}): name a file in another folder.") from None
    new = Path(name)
    try:
        _write(new, content)
        new.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        new.replace(target)
    except OSError as error:
        raise UsageError(f"Cannot write {target} ({error.strerror}): make room or name another file.") from None
    finally:
        new.unlink(missing_ok=True)


def _manifest(folder: Path) -> dict[str, str]:
    try:
        lines = (folder / MANIFEST).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    return {name: digest for digest, _, name in (line.partition("  ") for line in lines) if name}


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _carry_over(old: Path, new: Path, ours: set[str]) -> None:
    for path in sorted(old.iterdir()):
        if path.name in ours:
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.copytree(path, new / path.name, symlinks=True)
        else:
            shutil.copy2(path, new / path.name, follow_symlinks=False)


def _swap(new: Path, target: Path) -> None:
    """Puts ``new`` in the place of ``target``; what was there ends up at ``new`` or is gone."""
    if not target.is_dir():
        new.rename(target)
    elif not _exchanged(new, target):
        aside = Path(f"{new}.old")
        target.rename(aside)
        try:
            new.rename(target)
        except OSError:
            aside.rename(target)
            raise
        shutil.rmtree(aside, ignore_errors=True)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchanges two folders in one step where the system can (Linux, renameat2), so that no moment has neither."""
    import ctypes
    import sys

    if not sys.platform.startswith("linux"):
        return False
    at_cwd, exchange = -100, 2
    with contextlib.suppress(AttributeError, OSError):
        call = ctypes.CDLL(None).renameat2
        return bool(call(at_cwd, os.fsencode(one), at_cwd, os.fsencode(other), exchange) == 0)
    return False


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
