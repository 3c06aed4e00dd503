"""Where traces come from: files, folders, globs, .gz and .zip, as names and bytes within bounds."""

from __future__ import annotations

import glob
import gzip
import io
import os
import re
import stat
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from trackspread.errors import Problem, printable
from trackspread.system.opening import NOT_REGULAR, regular

LARGEST_FILE = 100 * 2**20  # bytes, bounds memory and time
LARGEST_ARCHIVE_TOTAL = 4 * 2**30  # bytes unpacked, bounds time
MOST_MEMBERS = MOST_BELOW = 20_000
"""Members of one archive, and files of one folder with all below it: more is not a folder of recordings."""
LARGEST_RATIO = 400  # times that a file may unpack, bounds memory and time
GZIP_MARK = b"\x1f\x8b"
SHEET_NAME, PLACES_NAME = "rides.csv", "places.csv"
RIGHTS = "look at its rights, or copy it again"


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One thing to read: a file, or a member of a zip archive.

    Parameters
    ----------
    name : str
        What is shown to the user.
    path : str
        Where it lies, ``folder/archive.zip/inner/file.gpx`` for a member; compared, never opened.
    below : tuple of str
        The folders (and archive) between what the user named and the file.
    asked : bool
        Whether the user named this very file.
    """

    name: str
    path: str
    below: tuple[str, ...]
    asked: bool
    _file: str
    _member: zipfile.ZipInfo | None = None

    @property
    def size(self) -> float:
        """Bytes that it holds, unpacked; endless where that is not known."""
        if self._member is not None:
            return self._member.file_size
        packed = self.path.lower().endswith(".gz") or not os.path.isfile(self._file)
        return float("inf") if packed else os.path.getsize(self._file)

    @property
    def is_sheet(self) -> bool:
        """Whether it is a table of rides."""
        return os.path.basename(self.path).lower() == SHEET_NAME

    @property
    def is_places(self) -> bool:
        """Whether it is the table of named places that lies among the traces: no recording."""
        return not self.asked and os.path.basename(self.path).lower() == PLACES_NAME


class TooLarge(ValueError):
    """A file holds more than may be read."""


LOAD_ERRORS = (
    OSError,
    EOFError,
    ValueError,
    zlib.error,
    zipfile.BadZipFile,
    RuntimeError,
    NotImplementedError,
)


@dataclass(kw_only=True, slots=True)
class Sources:
    """Finds and loads; holds one archive open at a time. Use it as a context manager.

    ``problems`` gathers what cannot be used; ``largest`` bounds the bytes of one file, unpacked.
    """

    largest: int = LARGEST_FILE
    problems: list[Problem] = field(default_factory=list)
    _open: tuple[str, zipfile.ZipFile] | None = None

    def __enter__(self) -> Sources:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    def find(self, paths: Sequence[Path | str]) -> list[Source]:
        """Return every file below ``paths`` in a fixed order, each once."""
        found = [file for given in paths for file in self._expanded(str(given))]
        root = _common_root([folder for folder, _, _ in found])
        seen: set[str] = set()
        out: list[Source] = []
        for folder, path, asked in found:
            real = _real(path)
            if real not in seen:
                seen.add(real)
                out += self._opened(folder if len(paths) == 1 else root, path, asked)
        return out

    def load(self, source: Source) -> bytes:
        """Return the bytes, unpacked; raises one of `LOAD_ERRORS`."""
        if source._member is None:
            with open(source._file, "rb", opener=regular) as stream:
                return self._unpacked(stream)
        with self._archive(source._file).open(source._member) as stream:
            return self._unpacked(stream)

    def _unpacked(self, stream: IO[bytes]) -> bytes:
        data = stream.read(self.largest + 1)
        if data[:2] == GZIP_MARK and len(data) <= self.largest:
            most = min(self.largest, LARGEST_RATIO * max(len(data), 1000))
            with gzip.open(io.BytesIO(data)) as inner:
                data = inner.read(most + 1)
            if most < len(data) <= self.largest:
                raise TooLarge(f"it is packed more than {LARGEST_RATIO}-fold")
        if len(data) > self.largest:
            raise TooLarge(f"it holds more than {self.largest / 2**20:.0f} MiB")
        return data

    def _expanded(self, given: str) -> Iterator[tuple[str, str, bool]]:
        """Yield the folder that counts as named, the file, and whether the user named the file."""
        if os.path.isdir(given):
            yield from ((given, path, False) for path in self._walked(given))
        elif os.path.lexists(given):
            yield os.path.dirname(given), given, True
        elif glob.has_magic(given) and (found := sorted(glob.glob(given, recursive=True))):
            inside = [file for path in found for file in self._expanded(path)]
            folder = _common_root([folder for folder, _, _ in inside])
            yield from ((folder, path, asked) for _, path, asked in inside)
        else:
            rule = "there is no such file or folder"
            self._problem(given, rule, remedy="check the name, or quote the pattern")

    def _walked(self, folder: str) -> list[str]:
        """Return the files below a folder, sorted; hidden ones and links to folders are passed over."""

        def told(error: OSError) -> None:
            self._problem(str(error.filename), f"the folder cannot be read: {error.strerror}", remedy=RIGHTS)

        found: list[str] = []
        for here, folders, files in os.walk(folder, onerror=told):
            folders[:] = sorted(name for name in folders if not _hidden(name))
            found += [os.path.join(here, name) for name in sorted(files) if not _hidden(name)]
            if len(found) > MOST_BELOW:
                rule = f"a folder may hold {MOST_BELOW} files, with all below it"
                self._problem(folder, rule, remedy="name the folder of the recordings")
                return []
        return found

    def _opened(self, root: str, path: str, asked: bool) -> Iterator[Source]:
        try:
            if not stat.S_ISREG(os.stat(path).st_mode):
                return self._problem(path, NOT_REGULAR, remedy="name the recording itself")
        except OSError as error:
            return self._problem(path, f"the file cannot be read: {error.strerror}", remedy=RIGHTS)
        below = _parts_below(root, path)
        if path.lower().endswith(".zip"):
            yield from self._members(path, below)
        elif path.lower().endswith(".kmz"):
            yield from self._members(path, below[:-1])
        else:
            yield Source(name=printable(path, 300), path=path, below=below[:-1], asked=asked, _file=path)

    def _members(self, path: str, below: tuple[str, ...]) -> Iterator[Source]:
        """Yield the members of a zip archive; nothing is ever unpacked onto the disk."""
        try:
            infos = sorted(self._archive(path).infolist(), key=lambda info: info.filename)
        except LOAD_ERRORS as error:
            rule = f"the archive cannot be opened: {printable(str(error))}"
            return self._problem(path, rule, remedy="pack or copy it again")
        total = sum(info.file_size for info in infos)
        if len(infos) > MOST_MEMBERS or total > LARGEST_ARCHIVE_TOTAL:
            rule = f"an archive may hold {MOST_MEMBERS} members and {LARGEST_ARCHIVE_TOTAL / 2**30:.0f} GiB"
            value = f"{len(infos)} members, {total / 2**30:.1f} GiB"
            return self._problem(path, rule, value, "unpack it yourself")
        for info in infos:
            inner = [part for part in re.split(r"[/\\]", info.filename) if part not in ("", ".", "..")]
            if info.is_dir() or not inner or any(map(_hidden, inner)):
                continue
            place = "/".join((path, *inner))
            if info.file_size > self.largest or info.file_size > LARGEST_RATIO * max(
                info.compress_size, 1000
            ):
                most = f"{self.largest / 2**20:.0f} MiB and be packed {LARGEST_RATIO}-fold"
                rule = f"a member may have at most {most}"
                self._problem(place, rule, f"{info.file_size} bytes from {info.compress_size}")
            elif info.flag_bits & 1:
                rule = "a member locked with a password is not read"
                self._problem(place, rule, remedy="unpack it yourself")
            elif inner[-1].lower().endswith((".zip", ".kmz")):
                self._problem(
                    place, "an archive inside an archive is not opened", remedy="unpack it yourself"
                )
            else:
                yield Source(
                    name=printable(place, 300), path=place, below=(*below, *inner[:-1]), asked=False,
                    _file=path, _member=info,
                )  # fmt: skip

    def _archive(self, path: str) -> zipfile.ZipFile:
        if self._open is None or self._open[0] != path:
            self._close()
            self._open = (path, zipfile.ZipFile(path))
        return self._open[1]

    def _close(self) -> None:
        if self._open is not None:
            self._open[1].close()
            self._open = None

    def _problem(self, path: str, rule: str, value: str = "", remedy: str = "") -> None:
        self.problems.append(Problem(file=printable(path, 300), value=value, rule=rule, remedy=remedy))


def _real(path: str) -> str:
    """Return where a path leads; itself where that may not be looked at: what opens it tells so."""
    try:
        return os.path.realpath(path)
    except OSError:
        return path


def _hidden(name: str) -> bool:
    return name.startswith((".", "__MACOSX"))


def _common_root(folders: Sequence[str]) -> str:
    try:
        return os.path.commonpath([os.path.abspath(folder) for folder in folders])
    except ValueError:
        return ""


def _parts_below(root: str, path: str) -> tuple[str, ...]:
    """Return the parts of ``path`` below ``root``; the bare name where it is not below it."""
    parts = Path(os.path.relpath(path, root or ".")).parts
    return parts if ".." not in parts else (os.path.basename(path),)
