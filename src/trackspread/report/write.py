"""Write a finished analysis into its folder: all of it or nothing, and never over files of others."""

from __future__ import annotations

import os
from concurrent.futures import Executor
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trackspread.errors import FolderRefused, printable
from trackspread.model import Analysis
from trackspread.report.policy import Basemap, parse_basemap
from trackspread.results.arrays import NAME as ARRAYS
from trackspread.results.arrays import write_arrays
from trackspread.results.csv import csv_files
from trackspread.results.document import Document, result_document, result_text
from trackspread.results.schema import SCHEMA
from trackspread.system.locks import locked
from trackspread.system.opening import check_replaceable, place_of
from trackspread.system.placing import is_ours, plain_place, put, refused, workplace
from trackspread.system.progress import Progress
from trackspread.system.workers import begun, load

if TYPE_CHECKING:
    from trackspread.report.backdrop import Backdrop

MARKER = "result.json"
PHASE = "writing"
Under = tuple[Basemap | None, "Backdrop | None"]
"""What lies under the maps: tiles, and the user's own lines and places."""


def check_folder(folder: Path | str) -> Path:
    """Return the full path of an output folder: new, empty, or one that holds an earlier result.

    So it can be asked before the work begins.

    Parameters
    ----------
    folder : Path or str

    Returns
    -------
    Path

    Raises
    ------
    FolderRefused
        It holds other files and no result, or cannot be read or written to.
    """
    given, folder = printable(str(folder), 300), place_of(folder)
    try:
        empty = not folder.exists() or all(is_ours(path.name) for path in folder.iterdir())
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
    ground: Path | None = None,
    places: Path | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> list[Path]:
    """Write report.html, map.html, result.json, tables/, layers.gpkg and arrays.npz.

    Everything is made in a hidden folder beside the target first, and put there in one step. Files of others
    stay.

    Parameters
    ----------
    analysis : Analysis
    folder : Path or str
        New, empty, or one that holds an earlier result.
    basemap : str, optional
        Address of tiles, with ``{z}``, ``{x}`` and ``{y}``.
    attribution : str
        Of these tiles.
    ground, places : Path, optional
        The user's own lines and places, as `report.backdrop.read_backdrop` reads them.
    progress : Progress, optional
        Told the phase ``writing``.
    executor : Executor, optional
        Makes pages and layers, the rest is made here meanwhile.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    UnreadableFile
        ``ground`` or ``places`` cannot be read.
    BadOption
        ``basemap`` is no address of tiles, or ``attribution`` is missing.
    FolderRefused
        The folder holds other files and no result, or cannot be written to; nothing was changed then.
    """
    given, folder = printable(str(folder), 300), check_folder(folder)
    tiles = parse_basemap(basemap, attribution) if basemap else None
    behind = _backdrop(ground, places)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with workplace(folder) as made:
            _make(analysis, made, (tiles, behind), progress or (lambda phase, share: None), executor)
            with locked(folder):
                check_folder(folder)
                _check_places(made, folder)
                names = put(made, folder)
    except OSError as error:
        raise refused(given, error) from error
    return [folder / name for name in names]


def _check_places(made: Path, folder: Path) -> None:
    """Refuse a folder in the place of a file, and a file in the place of a folder."""
    for new in made.rglob("*"):
        old = folder / new.relative_to(made)
        if old.exists() and old.is_dir() != new.is_dir():
            wanted, found = ("folder", "file") if new.is_dir() else ("file", "folder")
            raise FolderRefused(
                f"{old}: a {wanted} is to be written here, and this is a {found}; move it away"
            )
        if not new.is_dir():
            check_replaceable(old)


def _is_ours(marker: Path) -> bool:
    try:
        with marker.open("rb") as stream:
            head = stream.read(200).decode("utf-8", "replace")
    except OSError:
        return False
    return head.lstrip().startswith("{") and f'"schema": "{SCHEMA}"' in head


def _make(
    analysis: Analysis, made: Path, under: Under, progress: Progress, executor: Executor | None
) -> None:
    """Write everything into an empty folder; pages and layers may be made elsewhere meanwhile."""
    progress(PHASE, 0.0)
    document = result_document(analysis)
    pages = begun(executor, partial(_page_texts, analysis, document, under))
    layers = begun(executor, partial(_layers_bytes, analysis, document))
    _write(made / MARKER, result_text(document))
    progress(PHASE, 0.1)
    (made / "tables").mkdir()
    for name, text in csv_files(analysis, document).items():
        _write(made / "tables" / name, text)
    progress(PHASE, 0.2)
    write_arrays(analysis, made / ARRAYS)
    progress(PHASE, 0.3)
    for name, text in zip(("report.html", "map.html"), pages(), strict=True):
        _write(made / name, text)
    progress(PHASE, 0.8)
    (made / "layers.gpkg").write_bytes(layers())
    progress(PHASE, 1.0)


# --- what loads much; each loads it only when it is made ----------------------------------------------


def _backdrop(ground: Path | None, places: Path | None) -> Backdrop | None:
    if ground is None and places is None:
        return None
    from trackspread.report.backdrop import read_backdrop

    return read_backdrop(ground, places)


def _page_texts(analysis: Analysis, document: Document, under: Under) -> tuple[str, str]:
    """Return the texts of report.html and map.html."""
    from trackspread.report.page import map_page, report_page, routes_drawn

    drawn = routes_drawn(analysis, document)
    return (
        report_page(analysis, document, *under, drawn=drawn),
        map_page(analysis, document, *under, drawn=drawn),
    )


def ready_to_draw() -> None:
    """Load what pages and layers need, and compile the templates: for a worker that is idle."""
    from trackspread.report.page import compile_templates

    load("trackspread.results.layers")
    compile_templates()


def _layers_bytes(analysis: Analysis, document: Document) -> bytes:
    """Return layers.gpkg, made in a private temporary folder: SQLite needs a local disk and a plain name."""
    from trackspread.results.layers import write_layers

    with plain_place("layers.gpkg") as file:
        write_layers(analysis, document, file)
        return file.read_bytes()


def _write(file: Path, text: str) -> None:
    """UTF-8 with the line ends as they are; half a surrogate pair, as in odd file names, becomes a mark."""
    file.write_bytes(text.encode("utf-8", "replace"))
