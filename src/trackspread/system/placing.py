"""Put finished files into their place: whole or not at all, in one step where the system can, others' kept.

Everything is made in a hidden folder ``.<name>.<8 digits>.part`` beside its place, held by a lock of the
system for as long as its process lives; what a killed run left is known by its lock being free, and the next
run clears it.
"""

from __future__ import annotations

import ctypes
import os
import re
import shutil
import signal
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType
from typing import IO

from trackspread.errors import FolderRefused, printable

SCRATCH = "trackspread-layers"
"""Where layers are made, in the temporary folder."""
PART = re.compile(r"\..*\.[0-9a-f]{8}\.(part|born)")
LOCK = re.compile(r"\..*\.lock")
BORN = ".born"
"""What a hidden folder ends in until it is locked."""
UNLOCKABLE_S = 86_400.0
"""What cannot be locked, or is not yet, counts as left behind when it is older than this."""
_EXCHANGE = 2  # RENAME_EXCHANGE of renameat2(2)
_SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


def is_ours(name: str) -> bool:
    """Whether a name is that of a hidden folder or lock of this module."""
    return bool(PART.fullmatch(name) or LOCK.fullmatch(name))


# --- the place where something is made ----------------------------------------------------------------


@contextmanager
def held(parent: Path, name: str, mode: int = 0o777) -> Iterator[Path]:
    """Give an empty hidden folder in ``parent``; it is gone afterwards, with all that is still in it."""
    clear_abandoned(parent, name)
    made = parent / f".{_short(name)}.{uuid.uuid4().hex[:8]}.part"
    born = made.with_suffix(BORN)
    born.mkdir(mode=mode)
    handle = _taken(born)
    born.rename(made)  # only now: a part that is not locked is abandoned
    try:
        yield made
    finally:
        with undisturbed():
            shutil.rmtree(made, ignore_errors=True)
            _let_go(handle)


@contextmanager
def plain_place(file: str) -> Iterator[Path]:
    """Give a place for a file in a private temporary folder: SQLite needs a local disk and a plain name.

    Raises
    ------
    FolderRefused
        Nothing can be written there.
    """
    here = "the temporary folder"
    try:
        here = tempfile.gettempdir()
        with held(Path(here), SCRATCH, mode=0o700) as scratch:
            yield scratch / file
    except OSError as error:
        raise FolderRefused(
            f"{here}: {file} is made here first, and that fails: {error.strerror or error}; make room "
            "here, or name another temporary folder in TMPDIR"
        ) from error


@contextmanager
def workplace(folder: Path) -> Iterator[Path]:
    """Give an empty folder in which the files for ``folder`` are made.

    It lies beside it, or inside where nothing can be written beside it or another disk is mounted there.
    """
    parent = beside(folder)
    with locked(folder):
        clear_abandoned(parent, folder.name)
    with held(parent, folder.name) as made:
        yield made


@contextmanager
def whole(file: Path) -> Iterator[Path]:
    """Give a place where one file is made, and put it into its own when that has come to a good end."""
    with held(file.parent, file.name) as made:
        part = made / file.name
        yield part
        os.replace(part, file)


def beside(folder: Path) -> Path:
    """Return where hidden folders for ``folder`` are made: its parent, or itself where that cannot be."""
    inside = folder.is_dir() and (os.path.ismount(folder) or not os.access(folder.parent, os.W_OK))
    return folder if inside else folder.parent


def clear_abandoned(parent: Path, name: str) -> None:
    """Delete the hidden folders that killed runs left for ``name``."""
    ours = re.compile(rf"\.{re.escape(_short(name))}\.[0-9a-f]{{8}}\.(part|born)")
    with suppress(OSError):
        for path in parent.iterdir():
            if ours.fullmatch(path.name) and is_abandoned(path):
                shutil.rmtree(path, ignore_errors=True)


def _short(name: str) -> str:
    """Return so much of a name that another can be made of it (255 bytes are the most)."""
    return os.fsdecode(os.fsencode(name)[:200])


def is_abandoned(path: Path) -> bool:
    """Whether nobody holds a hidden folder any more."""
    try:
        age_s = time.time() - path.stat().st_mtime
        handle = None if path.suffix == BORN else _taken(path)
    except OSError:
        return False
    _let_go(handle)
    return age_s > UNLOCKABLE_S if handle is None else handle >= 0


# --- into its place -----------------------------------------------------------------------------------


def put(made: Path, folder: Path, gone: Callable[[Path], bool] = lambda name: False) -> list[Path]:
    """Move all that was made into ``folder`` and return its names there; what others put there stays.

    A new folder appears in one step. An existing one is exchanged for one that holds the new files and the
    others' (as links to the same data), in one step too; where the system cannot, file by file, and back if
    that fails. ``gone`` says which files of an earlier run give way. Only one run at a time is here.
    """
    names = sorted(path.relative_to(made) for path in made.rglob("*") if path.is_file())
    with undisturbed():
        if not folder.exists():
            made.rename(folder)
        elif made.parent == folder or not _exchanged(made, folder, names, gone):
            _one_by_one(made, folder, names, gone)
    return names


def _exchanged(made: Path, folder: Path, names: list[Path], gone: Callable[[Path], bool]) -> bool:
    """Exchange two folders; say whether that could be done. Nothing is changed if not."""
    if not sys.platform.startswith("linux") or not hasattr(_libc(), "renameat2"):
        return False
    try:
        others = [path for path in _all(folder) if path not in names and not gone(path)]
        for path in others:
            _link(folder, made, path)
        _like(folder, made)
    except OSError:
        return False
    if _libc().renameat2(-100, os.fsencode(made), -100, os.fsencode(folder), _EXCHANGE) != 0:
        return False
    for path in set(_all(made)) - set(names):  # what others changed meanwhile
        with suppress(OSError):
            if not gone(path) and not _same(made / path, folder / path):
                os.replace(made / path, folder / path)
    return True


def _same(old: Path, new: Path) -> bool:
    both_folders = old.is_dir() and new.is_dir()
    return both_folders or (os.path.lexists(new) and os.path.samestat(os.lstat(old), os.lstat(new)))


def _libc() -> ctypes.CDLL:
    return ctypes.CDLL(None, use_errno=True)


def _all(folder: Path) -> list[Path]:
    """Return all below a folder: folders before what is in them, links as links."""
    found = []
    for here, folders, files in os.walk(folder):
        found += [Path(here, name).relative_to(folder) for name in (*folders, *files)]
    return found


def _link(source: Path, target: Path, name: Path) -> None:
    old, new = source / name, target / name
    if old.is_dir() and not old.is_symlink():
        new.mkdir(exist_ok=True)
        _like(old, new)
    else:
        os.link(old, new, follow_symlinks=False)


def _like(old: Path, new: Path) -> None:
    """Give a folder the rights and the owner of another."""
    shutil.copystat(old, new)
    if hasattr(os, "chown"):
        with suppress(PermissionError):
            os.chown(new, old.stat().st_uid, old.stat().st_gid)


def _one_by_one(made: Path, folder: Path, names: list[Path], gone: Callable[[Path], bool]) -> None:
    """Exchange file by file, and put everything back if that fails."""
    before = made / "before"
    leaving = [path for path in _all(folder) if gone(path) and path not in names]
    old = {name for name in (*names, *leaving) if os.path.lexists(folder / name)}
    try:
        for name in (*leaving, *names):
            (before / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            if name in old:
                os.replace(folder / name, before / name)
            if name in names:
                os.replace(made / name, folder / name)
    except BaseException:
        for name in (*leaving, *names):
            if os.path.lexists(before / name):
                os.replace(before / name, folder / name)
            elif name not in old:
                (folder / name).unlink(missing_ok=True)
        raise


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold an interruption back until this is over: files are changing places."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def later(number: int, frame: FrameType | None) -> None:
        came.append(number)

    before = {number: signal.signal(number, later) for number in _SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler if handler is not None else signal.SIG_DFL)
        if came:
            signal.raise_signal(came[0])


# --- locks --------------------------------------------------------------------------------------------


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder, a hidden file; another run that writes to the same folder waits."""
    path = beside(folder) / f".{_short(folder.name)}.lock"
    handle = _locked_file(path)
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()
        handle.close()


def _locked_file(path: Path) -> IO[str]:
    while True:
        handle = path.open("a")
        try:
            _wait(handle)
            with suppress(FileNotFoundError):  # the run before has deleted it
                if os.path.samestat(os.fstat(handle.fileno()), path.stat()):
                    return handle
        except BaseException:
            handle.close()
            raise
        handle.close()


def _let_go(handle: int | None) -> None:
    if handle is not None and handle >= 0:
        os.close(handle)


try:
    import fcntl

    def _wait(handle: IO[str]) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX)

    def _taken(folder: Path) -> int | None:
        """Take the lock of a folder; -1 where another has it, None where folders cannot be locked."""
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            return -1
        except OSError:
            os.close(handle)
            return None
        return handle

except ImportError:  # Windows
    import msvcrt

    def _wait(handle: IO[str]) -> None:
        msvcrt.locking(handle.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined]

    def _taken(folder: Path) -> int | None:
        return None


def refused(folder: Path | str, error: OSError) -> FolderRefused:
    """Return the words for results that could not be written."""
    why = error.strerror or str(error) or type(error).__name__
    remedy = "name another folder or make this one fit for it (nothing in it was changed)"
    return FolderRefused(f"{printable(str(folder), 300)}: the results cannot be written: {why}; {remedy}")
