"""The draft folder: written whole or not at all, and never over what a person has changed."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from reduce.model.errors import UsageError
from reduce.report.stand_in import ASIDE, stand_in, turn

State = tuple[tuple[str, int, int], ...]
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
    if target.is_dir() and not target.stat().st_mode & 0o222:
        raise UsageError(f"{target} is write-protected: name another folder with --out.")
    if replace or not target.is_dir() or not any(target.iterdir()):
        return
    if not _manifest(target):
        raise UsageError(f"{target} holds files that are not a draft: name another folder with --out, or say --replace.")
    edited = _edited(target)
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

    Killed at any moment, it leaves the folder as it was or as it shall be.  What a person saves while it works is kept: an edit of the
    draft stops it, other files come along.  ``replace`` allows writing over edited files.  Raises `UsageError` where the folder was
    edited or cannot be written.
    """
    write_folders({target: files}, replace=replace)


def write_folders(folders: Mapping[Path, Mapping[str, bytes]], *, replace: bool = False) -> None:
    """Writes several folders that lie beside each other, all of them or none; each as `write_folder` does."""
    targets = {Path(os.path.realpath(target)): files for target, files in folders.items()}
    with turn(next(iter(targets))), contextlib.ExitStack() as clearing:
        ready = [_made_ready(target, files, replace, clearing) for target, files in targets.items()]
        for k, one in enumerate(ready):
            try:
                one.put(replace)
            except (OSError, UsageError) as error:
                for earlier in reversed(ready[:k]):
                    earlier.take_back()
                if isinstance(error, UsageError):
                    raise
                raise UsageError(f"Cannot write {one.target} ({error.strerror}): make room or name another folder with --out.") from None


@dataclass(slots=True)
class _Ready:
    """A folder that was written at ``new`` and waits to take the place of ``target``."""

    new: Path
    target: Path
    ours: set[str]
    carried: Mapping[str, State]

    def put(self, replace: bool) -> None:
        """Raises `UsageError` where a person edited the draft meanwhile; then everything is as it was."""
        _swap(self.new, self.target)
        _settle(self.target.parent)
        if self.new.is_dir():  # what was there before, with whatever came in at the last moment
            _keep_late(self.new, self.target, self.carried, self.ours, replace)

    def take_back(self) -> None:
        if self.new.is_dir():
            _swap(self.new, self.target)
        else:
            self.target.rename(self.new)


def _made_ready(target: Path, files: Mapping[str, bytes], replace: bool, clearing: contextlib.ExitStack) -> _Ready:
    """Writes the files beside their target, with what a person put there; ``clearing`` takes away what is left in the end."""
    check_folder(target, replace=replace)
    parent = target.parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
        new = Path(tempfile.mkdtemp(prefix=stand_in(target), dir=parent))
    except OSError as error:
        raise UsageError(f"Cannot write into {parent} ({error.strerror}): name another folder with --out.") from None
    clearing.callback(shutil.rmtree, new, ignore_errors=True)
    try:
        ours = {*files, *_manifest(target), MANIFEST} if target.is_dir() else set()
        carried = _carry_over(target, new, ours) if target.is_dir() else {}
        _write_all(new, {**files, MANIFEST: _listed({name: _digest(content) for name, content in files.items()})})
        new.chmod(0o777 & ~_umask())
        _settle(new)
    except OSError as error:
        raise UsageError(f"Cannot write {target} ({error.strerror}): make room or name another folder with --out.") from None
    return _Ready(new, target, ours, carried)


def refresh(target: Path, name: str, content: bytes) -> None:
    """Makes one of the tool's own files in a draft folder anew; what a person edited beside it is left alone and stays known as edited.

    Raises `UsageError` where it cannot be written.
    """
    written = _manifest(target)
    others = {file: digest for file, digest in written.items() if file != name}
    write_file(target / MANIFEST, _listed(others))  # killed on the way, the file counts as nobody's, not as edited by hand
    write_file(target / name, content)
    write_file(target / MANIFEST, _listed({**others, name: _digest(content)}))


def write_file(target: Path, content: bytes) -> None:
    """Puts one file in its place, whole or not at all.  Raises `UsageError` where it cannot be written."""
    target = Path(os.path.abspath(target))
    if target.is_dir():
        raise UsageError(f"{target} is a folder: name a file.")
    with turn(target.parent):  # a draft folder may be exchanged that moment; then once more
        if not _placed(target, content) and not _placed(target, content):
            raise UsageError(f"Cannot write {target}: its folder is no more.")


def _placed(target: Path, content: bytes) -> bool:
    """Puts the file there; False where its folder went away meanwhile."""
    try:
        handle, name = tempfile.mkstemp(prefix=stand_in(target), dir=target.parent)
        os.close(handle)
    except OSError as error:
        raise UsageError(f"Cannot write into {target.parent} ({error.strerror}): name a file in another folder.") from None
    new = Path(name)
    try:
        _write(new, content)
        new.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask())
        new.replace(target)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise UsageError(f"Cannot write {target} ({error.strerror}): make room or name another file.") from None
    finally:
        new.unlink(missing_ok=True)
    return True


def _manifest(folder: Path) -> dict[str, str]:
    try:
        lines = (folder / MANIFEST).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    return {name: digest for digest, _, name in (line.partition("  ") for line in lines) if name}


def _listed(written: Mapping[str, str]) -> bytes:
    return "".join(f"{digest}  {name}\n" for name, digest in written.items()).encode()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _edited(folder: Path) -> list[str]:
    """The files of the tool that are not as it wrote them."""
    return [
        name for name, digest in _manifest(folder).items() if (folder / name).exists() and _digest((folder / name).read_bytes()) != digest
    ]


def _settle(folder: Path) -> None:
    """Waits until the names in a folder are on the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    """Writes several files at once: to wait until each is on the disk before the next is begun takes several times as long."""
    faults: list[OSError] = []

    def write(name: str, content: bytes) -> None:
        try:
            _write(folder / name, content)
        except OSError as error:
            faults.append(error)

    writers = [Thread(target=write, args=each) for each in files.items()]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    if faults:
        raise faults[0]


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _carry_over(old: Path, new: Path, ours: set[str]) -> dict[str, State]:
    """Copies what a person put there; returns what each file was like, before it was copied."""
    states = {}
    for path in sorted(old.iterdir()):
        if path.name not in ours:
            states[path.name] = _state(path)
            _copy(path, new / path.name)
    return states


def _copy(path: Path, to: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.copytree(path, to, symlinks=True, dirs_exist_ok=True)
    else:
        shutil.copy2(path, to, follow_symlinks=False)


def _state(path: Path) -> State:
    """Name, size and time of a file, or of every file in a folder; a copy of ours has the same."""
    inside = sorted(path.rglob("*")) if path.is_dir() and not path.is_symlink() else [path]
    return tuple((str(one.relative_to(path.parent)), one.lstat().st_size, one.lstat().st_mtime_ns) for one in inside)


def _keep_late(old: Path, target: Path, carried: Mapping[str, State], ours: set[str], replace: bool) -> None:
    """After the exchange: an edit of the draft that came in meanwhile takes everything back, other files are brought along."""
    edited = [] if replace else _edited(old)
    if edited:
        _swap(old, target)
        raise UsageError(f"{target} was edited by hand meanwhile ({', '.join(edited)}): name another folder with --out, or say --replace.")
    for path in sorted(old.iterdir()):
        before, here = carried.get(path.name), target / path.name
        if path.name not in ours and before != _state(path) and before == (_state(here) if here.exists() else None):
            _copy(path, here)


def _swap(new: Path, target: Path) -> None:
    """Puts ``new`` in the place of ``target``; what was there ends up at ``new`` or is gone."""
    if not target.is_dir():
        try:
            new.rename(target)
            return
        except OSError:
            if not target.is_dir():  # else another run was quicker
                raise
    if not _exchanged(new, target):
        aside = Path(f"{new}{ASIDE}")
        target.rename(aside)
        try:
            new.rename(target)
        except OSError:
            aside.rename(target)
            raise
        aside.rename(new)


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
