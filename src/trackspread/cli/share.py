"""``trackspread share``: a copy of a finished analysis with cut ends, to show to others."""

from __future__ import annotations

from pathlib import Path

import click

from trackspread.cli import OK
from trackspread.errors import BadOption, printable

ALREADY = "its ends are cut already; show it as it is, or analyse the traces again"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--out", "target", type=click.Path(path_type=Path),
    help="Folder for the copy; without it FOLDER-shareable beside FOLDER.",
)  # fmt: skip
@click.option("--hide-dates", is_flag=True, help="Remove clock dates too.")
@click.option("--quiet", is_flag=True, help="Print nothing.")
def command(folder: Path, target: Path | None, hide_dates: bool, quiet: bool) -> int:
    """Make a shareable copy of the results in FOLDER: every trace, map and table is cut near both ends.

    Nothing is analysed again. The cut is secret and stays the same for the same rides, however often the
    copy is made.
    """
    from trackspread.api import write_report
    from trackspread.cli.terminal import progress_bar
    from trackspread.publish.cut import cut_for_publishing
    from trackspread.report.write import check_folder
    from trackspread.results.arrays import load_analysis
    from trackspread.system.opening import place_of

    whole = place_of(folder)
    target = check_folder(target or whole.with_name(f"{whole.name}-shareable"))
    if target == whole:
        raise BadOption(str(folder), "the copy would replace the result; name another folder")
    analysis = load_analysis(folder)
    if analysis.published:
        raise BadOption(str(folder), ALREADY)
    with progress_bar(quiet) as progress:
        write_report(cut_for_publishing(analysis, hide_dates=hide_dates), target, progress=progress)
    if not quiet:
        click.echo(f"Written to {printable(str(target), 300)}: look at start, end and every stop of its map.")
    return OK
