"""A new table of rides, filled with what was inferred."""

from __future__ import annotations

import csv
import io
import math
import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from trackspread.errors import FolderRefused, printable
from trackspread.model import Witness
from trackspread.readers.read import FileTraces
from trackspread.rides.colours import UNKNOWN, colour_name, watch_slots
from trackspread.rides.sheet.table import COLUMNS
from trackspread.rides.watches import proposed_name
from trackspread.system.spreadsheet import guarded


def write_new_sheet(target: Path, witnesses: Sequence[Witness], files: Sequence[FileTraces]) -> None:
    """Write a table beside the traces, whole or not at all, and never over anything.

    Rows stand in order of time. A start that the file tells itself is left empty: it is read from there
    again, and a row would make it one that somebody noted. Each watch keeps the colour that it has here.
    Columns that the tool does not know are kept behind its own. No cell runs as a formula in a spreadsheet.

    Parameters
    ----------
    target : Path
        Where the table goes.
    witnesses : sequence of Witness
        All traces, a row each.
    files : sequence of FileTraces
        The files that they came from.

    Raises
    ------
    FolderRefused
        Something of that name is there, or the folder cannot be written to.
    """
    text = io.StringIO(newline="")
    rows = csv.writer(text, lineterminator="\n")
    more = list(dict.fromkeys(name for witness in witnesses for name, _ in witness.other))
    rows.writerow([*COLUMNS, *map(guarded, more)])
    names = _receivers(witnesses)
    slots = watch_slots(filter(None, names.values()), {w.receiver: w.colour for w in witnesses})
    place = {file.name: _from(target.parent, file.path) for file in files}
    parts = Counter(witness.trace.file for witness in witnesses)
    for witness in sorted(witnesses, key=_order):
        trace = witness.trace
        name = place[trace.file] + (f"#{trace.part + 1}" if parts[trace.file] > 1 else "")
        receiver = names[trace.file, trace.part]
        start_s = witness.start_s if witness.start_source == "declared" else math.nan
        other = dict(witness.other)
        cells = (
            name, receiver, witness.ride, _utc(start_s), _utc(witness.fix_seen_s), witness.firmware,
            witness.route, colour_name(slots[receiver]) if receiver else "", witness.note,
            *(other.get(name, "") for name in more),
        )  # fmt: skip
        rows.writerow([guarded(cell) for cell in cells])
    _place(target, text.getvalue().encode("utf-8", "surrogateescape"))


def _receivers(witnesses: Sequence[Witness]) -> dict[tuple[str, int], str]:
    """Return the watch of each trace, or a name to propose that no two recordings of one ride share."""
    unknown = [w for w in witnesses if w.receiver == UNKNOWN]
    proposed = {(w.trace.file, w.trace.part): proposed_name(w.trace) for w in unknown}
    often = Counter((w.ride, proposed[w.trace.file, w.trace.part]) for w in unknown)
    shared = {name for (_, name), count in often.items() if count > 1}
    known = {(w.trace.file, w.trace.part): w.receiver for w in witnesses if w.receiver != UNKNOWN}
    return known | {place: "" if name in shared else name for place, name in proposed.items()}


def _order(witness: Witness) -> tuple[float, str, int]:
    known = witness.trace.time_s[witness.trace.time_s == witness.trace.time_s]
    return (float(known[0]) if len(known) else math.inf, witness.trace.file, witness.trace.part)


def _from(folder: Path, path: str) -> str:
    return os.path.relpath(path, folder).replace(os.sep, "/")


def _utc(time_s: float) -> str:
    if math.isnan(time_s):
        return ""
    return datetime.fromtimestamp(time_s, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _place(target: Path, data: bytes) -> None:
    """Write beside and link into place: a link is never made over something that is there."""
    shown = printable(str(target), 300)
    try:
        handle, part = tempfile.mkstemp(dir=target.parent, prefix=".rides-", suffix=".part")
    except OSError as error:
        raise FolderRefused(f"{shown}: cannot be written: {error.strerror}") from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        os.chmod(part, 0o644)
        _link(part, target)
    except FileExistsError:
        raise FolderRefused(f"{shown} is there already; delete it, or correct it by hand") from None
    except OSError as error:
        raise FolderRefused(f"{shown}: cannot be written: {error.strerror}") from error
    finally:
        with suppress(OSError):
            os.unlink(part)


def _link(part: str, target: Path) -> None:
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        with open(target, "xb") as stream, open(part, "rb") as written:
            stream.write(written.read())
