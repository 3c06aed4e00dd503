"""What was dropped, kept below one private folder: limits held while it streams in, names made harmless."""

from __future__ import annotations

import hashlib
import itertools
import re
import unicodedata
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from trackspread.errors import TrackspreadError, printable

_LEVELS = 3  # folders in each other
_LONGEST_BYTES = 120  # bytes of a name, below what file systems allow
_FORBIDDEN = frozenset('<>:"|?*')
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


class DropRefused(TrackspreadError):
    """A dropped file is not taken; ``status`` is the HTTP status that says so (RFC 9110)."""

    def __init__(self, text: str, status: int = 413) -> None:
        super().__init__(text)
        self.status = status


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """How much one session takes, in bytes and files."""

    file_bytes: int = 200_000_000
    total_bytes: int = 1_000_000_000
    files: int = 2_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Dropped:
    """One kept file: its name below the folder, its size, and a digest to know it again."""

    name: str
    size: int
    digest: str


def _safe_name(name: str) -> str:
    """Return ``name`` as a relative path with nothing in it that could leave a folder or harm a system.

    Folders are kept, the innermost levels where there are many, since a folder names the receiver.
    What some file system refuses (characters, device names, lengths) is replaced; ``""`` if nothing is left.
    """
    normal = unicodedata.normalize("NFC", name).replace("\\", "/")
    parts = [part for part in map(_safe_part, normal.split("/")) if part]
    return str(PurePosixPath(*parts[-_LEVELS:])) if parts else ""


def _safe_part(part: str) -> str:
    clean = "".join("_" if c in _FORBIDDEN or not c.isprintable() else c for c in part).strip(" .")
    if _DEVICES.fullmatch(clean):
        clean = f"_{clean}"
    stem, dot, ending = clean.rpartition(".")
    if not dot or len(ending) > 12:
        stem, dot, ending = clean, "", ""
    room = _LONGEST_BYTES - len(f"{dot}{ending}".encode())
    return stem.encode()[:room].decode(errors="ignore").rstrip(" .") + dot + ending


class Store:
    """The dropped files of one session."""

    def __init__(self, folder: Path, limits: Limits) -> None:
        self.folder = folder
        self.limits = limits
        self._kept: dict[str, Dropped] = {}
        self._arriving = 0
        self._bytes = 0
        self._serial = itertools.count()
        folder.mkdir(mode=0o700)

    @property
    def files(self) -> list[Dropped]:
        """All kept files in the order of their names."""
        return sorted(self._kept.values(), key=lambda dropped: dropped.name)

    @property
    def arriving(self) -> bool:
        """Whether a file is still streaming in."""
        return self._arriving > 0

    async def receive(self, name: str, declared_bytes: int, chunks: AsyncIterator[bytes]) -> Dropped:
        """Keep one file, or refuse it and keep nothing of it.

        The same file dropped again is kept once; another file of the same name gets a number.

        Parameters
        ----------
        name : str
            As the browser gives it; it is made harmless.
        declared_bytes : int
            0 where the browser does not say.
        chunks : async iterator of bytes

        Returns
        -------
        Dropped

        Raises
        ------
        DropRefused
            Name, size or number of files is beyond the limits, or the disk is full.
        """
        wanted = _safe_name(name)
        if not wanted:
            raise DropRefused(f"{printable(name)!r} is no name for a file", 400)
        if len(self._kept) + self._arriving >= self.limits.files:
            raise DropRefused(f"{wanted}: a session takes {self.limits.files:,} files; this one is left out")
        self._check(wanted, declared_bytes, declared_bytes)
        part = self.folder.parent / f"arriving-{next(self._serial)}"
        self._arriving += 1
        size, digest = 0, hashlib.sha256()
        try:
            with part.open("xb") as file:
                async for chunk in chunks:
                    self._check(wanted, size + len(chunk), len(chunk))
                    size += len(chunk)
                    self._bytes += len(chunk)
                    digest.update(chunk)
                    file.write(chunk)
            return self._keep(part, wanted, size, digest.hexdigest())
        except OSError as error:
            raise DropRefused(f"{wanted}: could not be kept ({error.strerror})", 507) from error
        finally:
            self._arriving -= 1
            if part.exists():
                part.unlink()
                self._bytes -= size

    def remove(self, name: str) -> None:
        """Forget one file and delete it.

        Parameters
        ----------
        name : str
            Of one kept file, whatever its capitals.

        Raises
        ------
        DropRefused
            There is no such file.
        """
        dropped = self._kept.pop(name.casefold(), None)
        if dropped is None:
            raise DropRefused(f"{printable(name)!r} is not among the dropped files", 404)
        (self.folder / dropped.name).unlink(missing_ok=True)
        self._bytes -= dropped.size

    def _check(self, name: str, file_bytes: int, more_bytes: int) -> None:
        if file_bytes > self.limits.file_bytes:
            raise DropRefused(
                f"{name}: larger than {self.limits.file_bytes / 1e6:,.0f} MB, the most for one file"
            )
        if self._bytes + more_bytes > self.limits.total_bytes:
            raise DropRefused(
                f"{name}: a session takes {self.limits.total_bytes / 1e6:,.0f} MB; this is too much"
            )

    def _keep(self, part: Path, wanted: str, size: int, digest: str) -> Dropped:
        path = PurePosixPath(wanted)
        for number in itertools.count(2):
            known = self._kept.get(wanted.casefold())
            if known is None:
                break
            if known.digest == digest:
                return known
            wanted = str(path.with_name(f"{path.stem} ({number}){path.suffix}"))
        target = self.folder / wanted
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        part.replace(target)
        dropped = Dropped(name=wanted, size=size, digest=digest)
        self._kept[wanted.casefold()] = dropped
        return dropped
