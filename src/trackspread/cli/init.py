"""``trackspread init``: a ``rides.csv`` filled with what was inferred, to correct by hand."""

from __future__ import annotations

from pathlib import Path

import click

from trackspread.cli import OK, SOME_SET_ASIDE
from trackspread.errors import FolderRefused, NothingToAnalyse, printable


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--rides",
    type=click.Path(path_type=Path),
    help="Table of rides or ride log to take in, beside what was inferred.",
)
@click.option("--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Processes.")
def command(folder: Path, rides: Path | None, workers: int) -> int:
    """Write FOLDER/rides.csv, one row a trace, filled with what was inferred.

    Correct it by hand: who recorded (receiver), on which trip (ride), when start was pressed
    (start_pressed, UTC). An existing rides.csv is never touched. A ride log from the phone, given with
    --rides, is matched to the files by watch and time.
    """
    from trackspread.readers import read_files
    from trackspread.readers.sources import SHEET_NAME
    from trackspread.results.rounding import counted
    from trackspread.rides.assign import assign_witnesses
    from trackspread.rides.sheet.table import read_sheets
    from trackspread.rides.sheet.template import write_new_sheet

    target = folder / SHEET_NAME
    if target.exists() or target.is_symlink():
        raise FolderRefused(
            f"{printable(str(target), 300)} is there already; delete it, correct it by hand, "
            "or move it elsewhere and give it with --rides"
        )
    read = read_files([folder], workers=workers)
    sheet = read_sheets(read, rides)
    witnesses, doubts = assign_witnesses(read, sheet)
    if not witnesses:
        raise NothingToAnalyse("nothing to write: no file held a usable trace", read.problems)
    write_new_sheet(target, witnesses, read.files)
    problems = (*read.problems, *sheet.problems, *doubts)
    for problem in problems:
        click.echo(str(problem), err=True)
    click.echo(f"Written to {printable(str(target), 300)}: {counted(len(witnesses), 'trace')}")
    return SOME_SET_ASIDE if problems else OK
