"""Files that commands write where they are told to: whole or not at all, and never over another unasked."""

from __future__ import annotations

from pathlib import Path

import click

from trackspread.errors import FolderRefused
from trackspread.system.placing import whole


def write_new(file: Path, text: str | bytes, overwrite: bool) -> None:
    """Write one file and say so; refuse one that exists unless ``overwrite``."""
    if file.exists() and not overwrite:
        raise FolderRefused(f"{file}: this file exists; name another one, or add --overwrite")
    if file.is_dir():
        raise FolderRefused(f"{file}: a file is needed, and this is a folder; name a file in it")
    try:
        with whole(file) as part:
            part.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    except OSError as error:
        why = error.strerror or error
        raise FolderRefused(f"{file}: cannot be written: {why}; name a file elsewhere") from error
    click.echo(f"Written to {file}")
