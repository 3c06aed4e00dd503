"""Opening what a user named: regular files only, since a pipe or a device would wait or never end."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from trackspread.errors import FolderRefused, printable

NOT_REGULAR = "this is not a regular file"


def regular(path: str, flags: int) -> int:
    """Open a file, as the ``opener`` of `open`.

    Parameters
    ----------
    path : str
        The file.
    flags : int
        As `os.open` takes them.

    Returns
    -------
    int
        Number of the open file.

    Raises
    ------
    OSError
        The file is a pipe, a device or a folder, or cannot be opened.
    """
    handle = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if stat.S_ISREG(os.fstat(handle).st_mode):
        return handle
    os.close(handle)
    raise OSError(0, NOT_REGULAR, path)


def regular_bytes(path: Path | str, most: int) -> bytes:
    """Return the first ``most`` bytes of a regular file.

    Parameters
    ----------
    path : Path or str
        The file.
    most : int
        Bytes that are read at most.

    Returns
    -------
    bytes

    Raises
    ------
    OSError
        As of `regular`.
    """
    with open(path, "rb", opener=regular) as stream:
        return stream.read(most)


def check_replaceable(file: Path) -> None:
    """Refuse to write where anything but a regular file stands.

    Parameters
    ----------
    file : Path
        Where a file is to be written; nothing need stand there.

    Raises
    ------
    FolderRefused
        There is a folder, a link, a pipe or a device of that name.
    """
    try:
        mode = os.lstat(file).st_mode
    except OSError:
        return
    if stat.S_ISDIR(mode):
        raise FolderRefused(f"{file}: a file is needed, and this is a folder; name a file in it")
    if not stat.S_ISREG(mode):
        kind = "a link" if stat.S_ISLNK(mode) else "a pipe or a device"
        raise FolderRefused(f"{file}: {NOT_REGULAR} but {kind}, and is not replaced; name another one")


def place_of(folder: Path | str) -> Path:
    """Return the full path of a folder to be written to, links followed.

    Parameters
    ----------
    folder : Path or str
        May not exist yet; ``~`` is the user's home.

    Returns
    -------
    Path

    Raises
    ------
    FolderRefused
        It is a file, its links go round in a circle or lead nowhere (a disk that is not there, as a rule), or
        there is no home.
    """
    folder, shown = Path(folder), printable(str(folder), 300)
    try:
        place = folder.expanduser().resolve()
        lost, file = folder.is_symlink() and not place.exists(), place.exists() and not place.is_dir()
    except (OSError, RuntimeError) as error:
        why = getattr(error, "strerror", None) or error
        raise FolderRefused(f"{shown}: no such place: {why}; name another one") from None
    if lost:
        raise FolderRefused(f"{shown}: this link leads nowhere; mend it, or name another folder")
    if file:
        rule = "a folder is needed for the results, and this is a file; name another one"
        raise FolderRefused(f"{shown}: {rule}")
    return place
