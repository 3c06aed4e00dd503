"""Read a result.json back: every name and kind of value of the schema is checked, nothing is trusted."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.results.schema import RESULT, SCHEMA
from trackspread.results.schema.kinds import Check
from trackspread.system.opening import regular

LARGEST_RESULT_BYTES = 512 * 1024 * 1024  # bytes, bounds memory
_REMEDY = "analyse the traces again, or name another result.json"


def load_result(path: Path | str) -> dict[str, Any]:
    """Return the document of a result.json, checked name by name. Names beyond the schema are kept.

    Parameters
    ----------
    path : Path or str
        The file, or the folder that holds it.

    Returns
    -------
    dict

    Raises
    ------
    UnreadableFile
        It cannot be read, is no result of this schema, or holds a wrong value; the error names the place,
        such as ``routes[0].segments[3].verdict``.
    """
    path = Path(path)
    file = path / "result.json" if path.is_dir() else path
    document = _parsed(file)
    if not isinstance(document, dict):
        raise _unreadable(file, "", document, "an object is needed")
    if document.get("schema") != SCHEMA:
        raise _unreadable(file, "schema", document.get("schema"), f"schema {SCHEMA} is needed")
    RESULT.check(document, "", Check(refuse=lambda place, value, rule: _unreadable(file, place, value, rule)))
    return document


def _parsed(file: Path) -> object:
    try:
        with open(file, encoding="utf-8", opener=regular) as stream:
            if os.fstat(stream.fileno()).st_size > LARGEST_RESULT_BYTES:
                raise _unreadable(file, "", None, "a result of at most 512 MiB is needed")
            return json.loads(stream.read(), parse_constant=_refuse)
    except OSError as error:
        raise _unreadable(file, "", None, f"cannot be read: {error.strerror or error}") from error
    except (ValueError, RecursionError) as error:
        raise _unreadable(file, "", None, f"strict JSON in UTF-8 is needed: {error}") from error


def _refuse(word: str) -> object:
    raise ValueError(f"{word} is no JSON number")


def _unreadable(file: Path, place: str, value: object, rule: str) -> UnreadableFile:
    found = "" if value is None else value if isinstance(value, str) else type(value).__name__
    return UnreadableFile(
        Problem(file=str(file), place=place, value=found, rule=printable(rule, 200), remedy=_REMEDY)
    )
