"""Files that commands write where they are told to: whole or not at all, and never over another unasked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from trackspread.errors import FolderRefused, printable
from trackspread.system.opening import check_replaceable
from trackspread.system.placing import whole


def places_beside(paths: Sequence[Path | str]) -> Path | None:
    """Return ``places.csv`` of the first folder, or beside the first file, that has one.

    Parameters
    ----------
    paths : sequence of Path or str
        What the command was given; a pattern or a missing file has no places.

    Returns
    -------
    Path or None
    """
    for path in map(Path, paths):
        file = (path if path.is_dir() else path.parent) / "places.csv"
        if file.is_file():
            return file
    return None


def write_new(file: Path, text: str | bytes, overwrite: bool) -> None:
    """Write one file and say so; refuse one that exists unless ``overwrite``.

    Parameters
    ----------
    file : Path
        Where to.
    text : str or bytes
        Text is written as UTF-8.
    overwrite : bool
        Replace a file that exists.

    Raises
    ------
    FolderRefused
        The file exists, or cannot be written; nothing was changed then.
    """
    shown = printable(str(file), 300)
    check_replaceable(file)
    if file.exists() and not overwrite:
        raise FolderRefused(f"{shown}: this file exists; name another one, or add --overwrite")
    try:
        with whole(file) as part:
            part.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    except OSError as error:
        why = error.strerror or error
        raise FolderRefused(f"{shown}: cannot be written: {why}; name a file elsewhere") from error
    click.echo(f"Written to {shown}")
