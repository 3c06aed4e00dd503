"""``trackspread archive``: every route folder below a root."""

from __future__ import annotations

from pathlib import Path

import click

from trackspread.cli import OK, SOME_SET_ASIDE
from trackspread.cli.helpers import executor_of
from trackspread.cli.terminal import progress_bar
from trackspread.cli.thresholds import options_of, threshold
from trackspread.errors import printable

MOST_ON_A_CLUSTER = 256  # routes under way at once, bounds memory
MOST_TOLD_EACH = 5  # on standard error, of what was set aside in one folder


@click.command()
@click.argument("root", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder for the results."
)
@threshold("segment_m", "Length of a segment, metres.")
@click.option("--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Processes.")
@click.option("--scheduler", metavar="ADDRESS", help="Dask scheduler, such as tcp://127.0.0.1:8786.")
@click.option("--quiet", is_flag=True, help="Print nothing but problems.")
def command(
    root: Path, folder: Path, segment_m: float, workers: int, scheduler: str | None, quiet: bool
) -> int:
    """Analyse every route folder below ROOT and write an index of all results.

    A run that was stopped goes on where it was: finished routes are not done again. Exit code 0: all used;
    1: done, some input was set aside; 2: nothing could be done. Never open the
    port of a scheduler to others: whoever reaches it can run any code on your machines.
    """
    from trackspread.archive.folders import passed_over, split_campaigns
    from trackspread.archive.index import write_index
    from trackspread.archive.run import analyse_archive, clear_parts
    from trackspread.archive.together import ridden_together

    clear_parts(folder)
    options = options_of({"segment_m": segment_m})
    ahead = 4 * workers if scheduler is None else MOST_ON_A_CLUSTER
    with progress_bar(quiet) as progress:
        outcomes = analyse_archive(
            root, folder, options, executor=lambda: executor_of(workers, scheduler), ahead=ahead,
            progress=progress,
        )  # fmt: skip
    routes = [root / outcome.name for outcome in outcomes]
    left = list(passed_over(root, routes))
    for path, why in left:
        click.echo(printable(f"{path}: {why}", 600), err=True)
    for split in split_campaigns(root, routes):
        rule = "its sub-folders are analysed apart; if they are watches, put a rides.csv into it"
        click.echo(printable(f"{split.name}: {rule}", 600), err=True)
    for group in ridden_together(outcomes):
        rule = "ridden together, yet analysed apart; move them into one folder to compare their watches"
        click.echo(printable(f"{', '.join(group)}: {rule}", 600), err=True)
    written = write_index(outcomes, folder)
    for outcome in outcomes:
        shown = outcome.aside[:MOST_TOLD_EACH]
        more = len(outcome.aside) - len(shown)
        for line in (outcome.reason, *shown, f"and {more} more, in its report" if more else ""):
            if line:
                click.echo(printable(f"{outcome.name}: {line}", 600), err=True)
    if not quiet:
        states = [outcome.state for outcome in outcomes]
        told = {"done": "done", "known": "done before", "failed": "failed"}
        words = ", ".join(f"{states.count(state)} {word}" for state, word in told.items())
        click.echo(f"{len(outcomes)} route folders: {words}. Written to {printable(str(written[0]), 300)}")
    lost = left or any(outcome.aside or outcome.state == "failed" for outcome in outcomes)
    return SOME_SET_ASIDE if lost else OK
