"""Where traces come from: files, folders, globs, .gz and .zip, as names and bytes within bounds."""

from __future__ import annotations

import glob
import gzip
import os
import stat
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from trackspread.errors import Problem, printable

LARGEST_FILE = 300 * 2**20
LARGEST_ARCHIVE_TOTAL = 4 * 2**30
MOST_MEMBERS = 20_000
LARGEST_RATIO = 400
_OTHERS = "md pdf jpg jpeg png webp heic gif mp4 mov html htm json py ini toml xlsx ods docx gpkg npz"
PASSED_OVER = frozenset(f".{ending}" for ending in _OTHERS.split())
"""Endings that are passed over without a word inside folders and archives."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One thing to read: a file, or a member of a zip archive.

    ``name`` is shown to the user; ``folder`` is where it lies (for the table of rides and the receiver's
    name); ``asked`` says whether the user named it; ``largest`` bounds what is unpacked from it.
    """

    name: str
    folder: str
    path: str
    largest: int
    member: str = ""
    asked: bool = False

    def load(self) -> bytes:
        """Return the bytes, unpacked; raises one of `LOAD_ERRORS`."""
        if not self.member:
            with open(self.path, "rb") as stream:
                return self._unpacked(stream, self.path)
        with zipfile.ZipFile(self.path) as archive, archive.open(self.member) as stream:
            return self._unpacked(stream, self.member)

    def _unpacked(self, stream: IO[bytes], name: str) -> bytes:
        if name.lower().endswith(".gz"):
            with gzip.open(stream) as inner:
                data = inner.read(self.largest + 1)
        else:
            data = stream.read(self.largest + 1)
        if len(data) > self.largest:
            raise TooLarge(self.largest)
        return data


def sources(
    paths: Sequence[Path | str], problems: list[Problem], largest: int = LARGEST_FILE
) -> Iterator[Source]:
    """Yield every file below ``paths`` in a fixed order, each once; what cannot be used becomes a problem."""
    seen: set[str] = set()
    for given in paths:
        for path, asked in _expanded(str(given), problems):
            real = os.path.realpath(path)
            if real in seen:
                continue
            seen.add(real)
            yield from _opened(path, asked, problems, largest)


def _expanded(given: str, problems: list[Problem]) -> Iterator[tuple[str, bool]]:
    """Yield the files that a path stands for, and whether the user named them."""
    if os.path.isdir(given):
        yield from ((path, False) for path in _walked(given, problems))
    elif os.path.lexists(given):
        yield given, True
    elif glob.has_magic(given) and (found := sorted(glob.glob(given, recursive=True))):
        for path in found:
            yield from _expanded(path, problems)
    else:
        remedy = "check the name, or quote the pattern"
        problems.append(
            Problem(file=printable(given, 200), rule="there is no such file or folder", remedy=remedy)
        )


def _walked(folder: str, problems: list[Problem]) -> Iterator[str]:
    """Yield the files below a folder, sorted; hidden ones and links to folders are passed over."""

    def told(error: OSError) -> None:
        name = printable(str(error.filename), 200)
        problems.append(Problem(file=name, rule=f"the folder cannot be read: {error.strerror}"))

    for here, folders, files in os.walk(folder, onerror=told):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        for name in sorted(files):
            if not name.startswith("."):
                yield os.path.join(here, name)


def _opened(path: str, asked: bool, problems: list[Problem], largest: int) -> Iterator[Source]:
    name, lower = printable(path, 300), path.lower()
    if not asked and os.path.splitext(lower)[1] in PASSED_OVER:
        return
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            problems.append(Problem(file=name, rule="this is not a regular file"))
            return
        if lower.endswith(".zip"):
            yield from _members(path, name, problems, largest)
            return
    except OSError as error:
        problems.append(Problem(file=name, rule=f"the file cannot be read: {error.strerror}"))
        return
    yield Source(name=name, folder=os.path.dirname(path), path=path, largest=largest, asked=asked)


class TooLarge(ValueError):
    """A file holds more than may be read."""

    def __init__(self, largest: int) -> None:
        super().__init__(f"more than {largest / 2**20:.0f} MiB")


LOAD_ERRORS = (OSError, EOFError, zlib.error, zipfile.BadZipFile, RuntimeError, NotImplementedError, TooLarge)


def _members(path: str, name: str, problems: list[Problem], largest: int) -> Iterator[Source]:
    """Yield the members of a zip archive; nothing is ever unpacked onto the disk."""
    try:
        with zipfile.ZipFile(path) as archive:
            infos = sorted(archive.infolist(), key=lambda info: info.filename)
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError, RuntimeError) as error:
        problems.append(Problem(file=name, rule=f"the archive cannot be opened: {printable(str(error))}"))
        return
    if len(infos) > MOST_MEMBERS or sum(info.file_size for info in infos) > LARGEST_ARCHIVE_TOTAL:
        rule = f"an archive may hold {MOST_MEMBERS} members and {LARGEST_ARCHIVE_TOTAL / 2**30:.0f} GiB"
        problems.append(
            Problem(file=name, rule=rule, value=f"{len(infos)} members", remedy="unpack it yourself")
        )
        return
    for info in infos:
        inner = PurePosixPath(info.filename)
        hidden = any(part.startswith((".", "__MACOSX")) for part in inner.parts)
        if info.is_dir() or hidden or inner.suffix.lower() in PASSED_OVER:
            continue
        shown = printable(f"{name}/{info.filename}", 300)
        if info.file_size > largest or info.file_size > LARGEST_RATIO * max(info.compress_size, 1000):
            rule = f"a member may be {largest / 2**20:.0f} MiB large and packed {LARGEST_RATIO}-fold at most"
            problems.append(Problem(file=shown, rule=rule, value=f"{info.file_size} bytes"))
            continue
        folder = os.path.join(path, *inner.parent.parts)
        yield Source(name=shown, folder=folder, path=path, largest=largest, member=info.filename)
