"""Who, when and which: from the table of rides, sub-folder, file, and overlap in time and place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from trackspread.errors import Problem, printable
from trackspread.model import FixSource, Trace, Witness
from trackspread.readers.read import FileTraces, ReadResult
from trackspread.rides.at_once import Pair, joined_rides, made_at_once, of_two_watches, timed
from trackspread.rides.clocks import with_weeks_mended
from trackspread.rides.colours import COLOURS, UNKNOWN
from trackspread.rides.sheet.ride_log import with_log
from trackspread.rides.sheet.table import Row, Sheet, plain_name
from trackspread.rides.sheet.times import seen_seconds, start_seconds
from trackspread.rides.watches import device_names, pattern_names, writer_names

FORMATS = frozenset(("gpx", "nmea", "kml", "csv", "parquet", "traces", "files", "export"))

Answer = tuple[str, str]
"""The answer to a question and where it comes from."""


def assign_witnesses(read: ReadResult, sheet: Sheet) -> tuple[tuple[Witness, ...], tuple[Problem, ...]]:
    """Return one witness a trace, and what is wrong with answers of the table of rides.

    In this order: the table of rides, the name of the sub-folder (receiver), the file's own metadata, a word
    in the file names (receiver), and overlap in time and place (traces recorded at once are one ride).
    ``receiver_from`` and ``ride_from`` say which it was.

    Parameters
    ----------
    read : ReadResult
        What was read.
    sheet : Sheet
        The table of rides, which may be empty.

    Returns
    -------
    witnesses : tuple of Witness
        In the order of ``read.traces``.
    problems : tuple of Problem
        Each names the table and the line of a row whose start cannot be right, or whose receiver or ride
        another row writes otherwise.
    """
    read = with_weeks_mended(read)
    traces = read.traces
    recorded = timed(traces)
    together = made_at_once(recorded)
    clashes = of_two_watches(recorded, together)
    rows, problems = _rows_of(read, sheet, together, clashes)
    receivers = _receivers(read.files, rows, clashes)
    known = ["" if name == UNKNOWN else name for name, _ in receivers]
    rides = _rides(traces, rows, lambda said: joined_rides(recorded, together, known, said))
    problems += _spellings([row for row in rows if row])
    colours = _colours(rows, [name for name, _ in receivers], problems)
    starts = list(_starts(traces, rows, problems))
    seen = _seen(traces, rows, starts, problems)
    witnesses = tuple(
        Witness(
            trace=trace, receiver=receiver[0], receiver_from=receiver[1], ride=ride[0], ride_from=ride[1],
            start_s=start_s, start_source=source, note=row.note if row else "",
            start_reason=trace.start_reason if source == "none" else "",
            firmware=(row.firmware if row else "") or trace.device.firmware, fix_seen_s=seen_s,
            route=row.route if row else "", colour=colours.get(receiver[0], ""),
            other=row.other if row else (),
        )
        for trace, row, receiver, ride, (start_s, source), seen_s in zip(
            traces, rows, receivers, rides, starts, seen, strict=True
        )
    )  # fmt: skip
    return witnesses, tuple(problems)


def rows_of(read: ReadResult, sheet: Sheet) -> list[Row | None]:
    """Return what the table says of each trace in their order, rows of a ride log among it.

    Parameters
    ----------
    read : ReadResult
        What was read.
    sheet : Sheet
        The table of rides, which may be empty.

    Returns
    -------
    list of Row or None
        None where the table says nothing of a trace.
    """
    if not sheet.noted:
        return [sheet.row(trace.file, trace.part) for trace in read.traces]
    read = with_weeks_mended(read)
    recorded = timed(read.traces)
    together = made_at_once(recorded)
    return _rows_of(read, sheet, together, of_two_watches(recorded, together))[0]


def _rows_of(
    read: ReadResult, sheet: Sheet, together: list[Pair], clashes: list[Pair]
) -> tuple[list[Row | None], list[Problem]]:
    """Return the row of each trace; those of a ride log need to know which watch made which trace.

    The program that wrote a file is no watch that a log could name.
    """
    rows = [sheet.row(trace.file, trace.part) for trace in read.traces]
    if not sheet.noted:
        return rows, []
    answers = _receivers(read.files, rows, clashes)
    watches = [
        "" if name in (UNKNOWN, trace.device.writer) else name
        for trace, (name, _) in zip(read.traces, answers, strict=True)
    ]
    inferred = [source in ("file", "pattern") for _, source in answers]
    copies = sorted({*together} - {*clashes})
    return with_log(read.traces, watches, rows, sheet.noted, copies, inferred)


def _spellings(rows: Sequence[Row]) -> list[Problem]:
    """Return a problem for each receiver and ride that another row writes in other capitals or spaces."""
    first: dict[tuple[str, str], str] = {}
    told: set[tuple[str, str]] = set()
    problems = []
    for row in sorted(rows, key=lambda row: (row.sheet, row.line)):
        for column, name in (("watch", row.receiver), ("ride", row.ride)):
            known = first.setdefault((column, plain_name(name)), name)
            if known == name or (column, name) in told:
                continue
            told.add((column, name))
            rule = f"another line writes this {column} {known!r}, and they count as two"
            remedy = "write them alike where they are one"
            place = f"line {row.line}"
            problems.append(Problem(file=row.sheet, place=place, value=name, rule=rule, remedy=remedy))
    return problems


def _colours(rows: Sequence[Row | None], receivers: Sequence[str], problems: list[Problem]) -> dict[str, str]:
    """Return the colour of each receiver: that of its first row with one; note what is no colour of ours."""
    found: dict[str, str] = {}
    told = [(row, name) for row, name in zip(rows, receivers, strict=True) if row]
    for row, receiver in sorted(told, key=lambda each: (each[0].sheet, each[0].line)):
        colour = row.colour.casefold()
        if colour in COLOURS and receiver != UNKNOWN:
            found.setdefault(receiver, colour)
        elif colour and colour not in COLOURS:
            rule = f"the colour of a watch is one of {', '.join(COLOURS)}"
            place, remedy = f"line {row.line}", "correct the cell, or leave it empty"
            problems.append(Problem(file=row.sheet, place=place, value=row.colour, rule=rule, remedy=remedy))
    return found


# --- who ---------------------------------------------------------------------------------------------


def _receivers(files: Sequence[FileTraces], rows: Sequence[Row | None], clashes: list[Pair]) -> list[Answer]:
    """Return the receiver of each trace.

    No receiver records twice at once: where a folder or a file's metadata say so of two different
    recordings (``clashes``), they do not tell who recorded them.
    """
    traces = [trace for file in files for trace in file.traces]
    folder = [_folder_name(file) for file in files for _ in file.traces]
    own = device_names(traces)
    no_folder = _contradicted(folder, clashes)
    no_own = _contradicted(own, clashes)
    answers: list[Answer] = []
    for i, row in enumerate(rows):
        if row and row.receiver:
            answers.append((row.receiver, "sheet"))
        elif folder[i] and folder[i] not in no_folder:
            answers.append((folder[i], "folder"))
        elif own[i] and own[i] not in no_own:
            answers.append((own[i], "file"))
        else:
            answers.append((UNKNOWN, "none"))
    asked = [i for i, (name, _) in enumerate(answers) if name == UNKNOWN]
    for source, names in (("file", writer_names), ("pattern", pattern_names)):
        for i, name in names(traces, asked, clashes).items():
            answers[i] = (name, source)
        asked = [i for i in asked if answers[i][0] == UNKNOWN]
    return answers


def _contradicted(names: Sequence[str], clashes: list[Pair]) -> set[str]:
    return {names[i] for i, j in clashes if names[i] == names[j]}


def _folder_name(file: FileTraces) -> str:
    """Return the innermost folder between what the user named and the file that can be a receiver's name."""
    for part in reversed(file.below):
        name = part.removesuffix(".zip")
        if any(letter.isalpha() for letter in name) and name.lower() not in FORMATS:
            return printable(name, 60)
    return ""


# --- when --------------------------------------------------------------------------------------------


def _starts(
    traces: Sequence[Trace], rows: Sequence[Row | None], problems: list[Problem]
) -> Iterator[tuple[float, FixSource]]:
    """Yield when start was pressed and who says so; a row counts for the first of a file's traces only."""
    begun: dict[tuple[str, int], float] = {}
    for trace, row in zip(traces, rows, strict=True):
        if row:
            key = (row.sheet, row.line)
            begun[key] = min(begun.get(key, np.inf), _first_s(trace))
    for trace, row in zip(traces, rows, strict=True):
        first_s = _first_s(trace)
        start_s = float("nan")
        if row and first_s <= begun[row.sheet, row.line]:
            try:
                start_s = start_seconds(row, first_s if np.isfinite(first_s) else float("nan"))
            except ValueError as error:
                place = f"line {row.line}"
                remedy = "correct the cell (UTC, or with an offset such as +02:00), or leave it empty"
                problem = Problem(
                    file=row.sheet, place=place, value=row.start_pressed, rule=str(error), remedy=remedy
                )
                problems += [problem] if problem not in problems else []
        if np.isfinite(start_s):
            yield start_s, "declared"
        else:
            yield trace.start_s, trace.start_from if np.isfinite(trace.start_s) else "none"


def _seen(
    traces: Sequence[Trace], rows: Sequence[Row | None], starts: Sequence[tuple[float, FixSource]],
    problems: list[Problem],
) -> Iterator[float]:  # fmt: skip
    """Yield when each watch showed its fix, as the rider noted it; NaN where nobody did."""
    for trace, row, (start_s, _) in zip(traces, rows, starts, strict=True):
        if row is None:
            yield float("nan")
            continue
        first_s = _first_s(trace)
        try:
            yield seen_seconds(row, start_s, first_s if np.isfinite(first_s) else float("nan"))
        except ValueError as error:
            remedy = "correct the cell (UTC, or with an offset such as +02:00), or leave it empty"
            place = f"line {row.line}"
            problems.append(
                Problem(file=row.sheet, place=place, value=row.fix_seen, rule=str(error), remedy=remedy)
            )
            yield float("nan")


def _first_s(trace: Trace) -> float:
    """Return the first known time, infinity where there is none."""
    first_s = trace.first_time_s()
    return first_s if np.isfinite(first_s) else float("inf")


# --- which -------------------------------------------------------------------------------------------


def _rides(
    traces: Sequence[Trace], rows: Sequence[Row | None], joined: Callable[[list[str]], list[list[int]]]
) -> list[Answer]:
    """Return the ride of each trace; rides without a name are numbered in order of time.

    ``joined`` gives the traces in groups that are one ride, where it is told which ride is named already.
    """
    said = [
        (row.ride, "sheet") if row and row.ride else (printable(trace.ride, 60), "file" if trace.ride else "")
        for trace, row in zip(traces, rows, strict=True)
    ]
    groups = joined([name for name, _ in said])
    taken = {name for name, _ in said}
    numbers = (str(n) for n in range(1, 10**9) if str(n) not in taken)
    out: dict[int, Answer] = {}
    for members in sorted(groups, key=lambda group: min((_first_s(traces[i]), i) for i in group)):
        name = next((said[i][0] for i in members if said[i][0]), "") or next(numbers)
        for i in members:
            out[i] = said[i] if said[i][0] else (name, "overlap" if len(members) > 1 else "none")
    return [out[i] for i in range(len(traces))]
