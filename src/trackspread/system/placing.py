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
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from trackspread.errors import FolderRefused, printable
from trackspread.system.locks import beside, let_go, locked, short_name, taken
from trackspread.system.signals import undisturbed

SCRATCH = "trackspread-layers"
"""Where layers are made, in the temporary folder."""
PART = re.compile(r"\..*\.[0-9a-f]{8}\.(part|born)")
LOCK = re.compile(r"\..*\.lock")
BORN = ".born"
"""What a hidden folder ends in until it is locked."""
UNLOCKABLE_S = 86_400.0
"""What cannot be locked, or is not yet, counts as left behind when it is older than this."""
_EXCHANGE = 2  # RENAME_EXCHANGE of renameat2(2)


def is_ours(name: str) -> bool:
    """Return whether a name is that of a hidden folder or lock of this module.

    Parameters
    ----------
    name : str
        Last part of a path.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_ours(".report.0a1b2c3d.part"), is_ours(".report.lock"), is_ours("report")
    (True, True, False)
    """
    return bool(PART.fullmatch(name) or LOCK.fullmatch(name))


# --- the place where something is made ----------------------------------------------------------------


@contextmanager
def held(parent: Path, name: str, mode: int = 0o777) -> Iterator[Path]:
    """Give an empty hidden folder in ``parent``; it is gone afterwards, with all that is still in it.

    Parameters
    ----------
    parent : Path
        Folder in which it is made.
    name : str
        What is made there: what killed runs left for it is cleared first.
    mode : int
        Rights of the folder.

    Yields
    ------
    Path
        The hidden folder, locked for as long as it is in use.
    """
    clear_abandoned(parent, name)
    made = parent / f".{short_name(name)}.{uuid.uuid4().hex[:8]}.part"
    born = made.with_suffix(BORN)
    born.mkdir(mode=mode)
    handle = taken(born)
    born.rename(made)  # only now: a part that is not locked is abandoned
    try:
        yield made
    finally:
        with undisturbed():
            shutil.rmtree(made, ignore_errors=True)
            let_go(handle)


@contextmanager
def plain_place(file: str) -> Iterator[Path]:
    """Give a place for a file in a private temporary folder: SQLite needs a local disk and a plain name.

    Parameters
    ----------
    file : str
        Name of the file, without a folder.

    Yields
    ------
    Path
        Where it is to be made; it is gone afterwards.

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

    Parameters
    ----------
    folder : Path
        Where the files go in the end; it need not exist.

    Yields
    ------
    Path
        The empty folder.
    """
    parent = beside(folder)
    with locked(folder):
        clear_abandoned(parent, folder.name)
    with held(parent, folder.name) as made:
        yield made


@contextmanager
def whole(file: Path) -> Iterator[Path]:
    """Give a place where one file is made, and put it into its own when that has come to a good end.

    Parameters
    ----------
    file : Path
        Where the file goes in the end.

    Yields
    ------
    Path
        Where it is to be made; after an error nothing has changed.
    """
    with held(file.parent, file.name) as made:
        part = made / file.name
        yield part
        os.replace(part, file)


def clear_abandoned(parent: Path, name: str) -> None:
    """Delete the hidden folders that killed runs left for ``name``.

    Parameters
    ----------
    parent : Path
        Folder that they lie in.
    name : str
        What they were made for.
    """
    ours = re.compile(rf"\.{re.escape(short_name(name))}\.[0-9a-f]{{8}}\.(part|born)")
    with suppress(OSError):
        for path in parent.iterdir():
            if ours.fullmatch(path.name) and is_abandoned(path):
                shutil.rmtree(path, ignore_errors=True)


def is_abandoned(path: Path) -> bool:
    """Return whether nobody holds a hidden folder any more.

    Parameters
    ----------
    path : Path
        A folder of this module (`is_ours`).

    Returns
    -------
    bool
    """
    try:
        age_s = time.time() - path.stat().st_mtime
        handle = None if path.suffix == BORN else taken(path)
    except OSError:
        return False
    let_go(handle)
    return age_s > UNLOCKABLE_S if handle is None else handle >= 0


# --- into its place -----------------------------------------------------------------------------------


def put(made: Path, folder: Path, gone: Callable[[Path], bool] = lambda name: False) -> list[Path]:
    """Move all that was made into ``folder`` and return its names there; what others put there stays.

    A new folder appears in one step. An existing one is exchanged for one that holds the new files and the
    others' (as links to the same data), in one step too; where the system cannot, file by file, and back if
    that fails. ``gone`` says which files of an earlier run give way. Only one run at a time is here.

    Parameters
    ----------
    made : Path
        Folder of what was made; it may be gone afterwards.
    folder : Path
        Where it goes.
    gone : callable
        Says of a path below ``folder`` whether it gives way.

    Returns
    -------
    list of Path
        What was moved, as paths below ``folder``, in order.

    Raises
    ------
    OSError
        It could not be moved; ``folder`` is as it was.
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


def refused(folder: Path | str, error: OSError) -> FolderRefused:
    """Return the words for results that could not be written.

    Parameters
    ----------
    folder : Path or str
        Where the results were to go.
    error : OSError
        Why they could not.

    Returns
    -------
    FolderRefused
    """
    why = error.strerror or str(error) or type(error).__name__
    remedy = "name another folder or make this one fit for it (nothing in it was changed)"
    return FolderRefused(f"{printable(str(folder), 300)}: the results cannot be written: {why}; {remedy}")
