"""Files that commands write where they are told to: whole or not at all, and never over another unasked."""

from __future__ import annotations

import os
import uuid
from contextlib import suppress
from pathlib import Path

import click

from trackspread.errors import FolderRefused


def write_new(file: Path, text: str | bytes, overwrite: bool) -> None:
    """Write one file and say so; refuse one that exists unless ``overwrite``."""
    if file.exists() and not overwrite:
        raise FolderRefused(f"{file}: this file exists; name another one, or add --overwrite")
    if file.is_dir():
        raise FolderRefused(f"{file}: a file is needed, and this is a folder; name a file in it")
    part = file.with_name(f".{file.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        part.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        os.replace(part, file)
    except OSError as error:
        raise FolderRefused(f"{file}: cannot be written: {error.strerror or error}") from error
    finally:
        with suppress(OSError):
            part.unlink()
    click.echo(f"Written to {file}")
