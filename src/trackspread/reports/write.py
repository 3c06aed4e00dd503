"""Write a finished analysis into its folder: all of it or nothing, and never over files of others."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from trackspread.errors import FolderRefused
from trackspread.model import Analysis
from trackspread.reports.arrays import NAME as ARRAYS
from trackspread.reports.arrays import write_arrays
from trackspread.reports.csv_tables import csv_files
from trackspread.reports.layers import write_layers
from trackspread.reports.page import map_page, report_page
from trackspread.reports.policy import Basemap, parse_basemap
from trackspread.reports.result import result_document, result_text
from trackspread.reports.saved import SCHEMA

Progress = Callable[[str, float], None]
MARKER = "result.json"
PHASE = "writing"


def check_folder(folder: Path | str) -> Path:
    """Return the full path of an output folder: new, empty, or one that holds an earlier result.

    Raises `FolderRefused` for anything else, so that it can be asked before the work begins.
    """
    given, folder = folder, Path(folder).expanduser().resolve()
    if folder.exists() and not folder.is_dir():
        raise FolderRefused(
            f"{given}: a folder is needed for the results, and this is a file; name another one"
        )
    try:
        empty = not folder.exists() or not any(folder.iterdir())
    except OSError as error:
        raise FolderRefused(
            f"{given}: this folder cannot be read: {error.strerror}; name another one"
        ) from error
    if not empty and not _is_ours(folder / MARKER):
        raise FolderRefused(
            f"{given}: this folder holds other files and no {MARKER} of ours; name a new or an empty folder"
        )
    nearest = next(parent for parent in (folder, *folder.parents) if parent.exists())
    if not (nearest.is_dir() and os.access(nearest, os.W_OK)):
        raise FolderRefused(f"{given}: nothing can be written to {nearest}; name a folder of your own")
    return folder


def write_all(
    analysis: Analysis,
    folder: Path | str,
    *,
    basemap: str | None = None,
    attribution: str = "",
    progress: Progress | None = None,
) -> list[Path]:
    """Write report.html, map.html, result.json, tables/, layers.gpkg and arrays.npz; return their paths.

    Everything is made in a folder beside the target first. A new target appears in one step; in an earlier
    result our files are exchanged one by one, and put back if that fails. Files of others stay.
    """
    folder = check_folder(folder)
    tiles = parse_basemap(basemap, attribution) if basemap else None
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = folder.parent / f".{folder.name}.{uuid.uuid4().hex[:8]}.part"
    try:
        made.mkdir()
        _make(analysis, made, tiles, progress or (lambda phase, share: None))
        names = sorted(path.relative_to(made) for path in made.rglob("*") if path.is_file())
        with _locked(folder):
            _put(made, check_folder(folder), names)
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return [folder / name for name in names]


def _is_ours(marker: Path) -> bool:
    try:
        with marker.open("rb") as stream:
            head = stream.read(200).decode("utf-8", "replace")
    except OSError:
        return False
    return head.lstrip().startswith("{") and f'"schema": "{SCHEMA}"' in head


def _make(analysis: Analysis, made: Path, tiles: Basemap | None, progress: Progress) -> None:
    """Write everything into an empty folder."""
    progress(PHASE, 0.0)
    document = result_document(analysis)
    _write(made / MARKER, result_text(document))
    progress(PHASE, 0.1)
    (made / "tables").mkdir()
    for name, text in csv_files(analysis, document).items():
        _write(made / "tables" / name, text)
    progress(PHASE, 0.25)
    with TemporaryDirectory(prefix="trackspread-") as scratch:  # SQLite needs a local disk and a plain name
        write_layers(analysis, document, Path(scratch) / "layers.gpkg")
        shutil.move(Path(scratch) / "layers.gpkg", made / "layers.gpkg")
    write_arrays(analysis, made / ARRAYS)
    progress(PHASE, 0.5)
    _write(made / "map.html", map_page(analysis, document, tiles))
    progress(PHASE, 0.7)
    _write(made / "report.html", report_page(analysis, document, tiles))
    progress(PHASE, 1.0)


def _write(file: Path, text: str) -> None:
    """UTF-8 with the line ends as they are; half a surrogate pair, as in odd file names, becomes a mark."""
    file.write_bytes(text.encode("utf-8", "replace"))


def _put(made: Path, folder: Path, names: list[Path]) -> None:
    """Move what was made into its place."""
    if not folder.exists():
        made.rename(folder)
        return
    for name in names:
        if (folder / name).is_dir():
            raise FolderRefused(
                f"{folder / name}: a file is to be written here, and this is a folder; move it away"
            )
    before = made / "before"
    old = {name for name in names if (folder / name).exists()}
    try:
        for name in names:
            for place in (folder, before):
                (place / name).parent.mkdir(parents=True, exist_ok=True)
            if name in old:
                os.replace(folder / name, before / name)
            os.replace(made / name, folder / name)
    except BaseException:
        for name in names:
            if (before / name).exists():
                os.replace(before / name, folder / name)
            elif name not in old:
                (folder / name).unlink(missing_ok=True)
        raise


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder, a file beside it; another run that writes to the same folder waits."""
    path = folder.parent / f".{folder.name}.lock"
    handle = _lock(path)
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()
        handle.close()


def _lock(path: Path) -> IO[str]:
    while True:
        handle = path.open("a")
        try:
            _wait(handle)
            if path.exists() and os.path.samestat(os.fstat(handle.fileno()), path.stat()):
                return handle
        except BaseException:
            handle.close()
            raise
        handle.close()


try:
    import fcntl

    def _wait(handle: IO[str]) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX)

except ImportError:  # Windows
    import msvcrt

    def _wait(handle: IO[str]) -> None:
        msvcrt.locking(handle.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined]
