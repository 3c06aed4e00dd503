"""``trackspread rank``: the watches of several analyses side by side, and how they changed."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from trackspread.cli.files import write_new


@click.command()
@click.argument("results", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--by",
    type=click.Choice(["spread", "first fix", "settled fix", "stretch share"]),
    default="spread",
    show_default=True,
    help="The figure that orders the rows.",
)
@click.option("--html", "page", type=click.Path(path_type=Path), help="Write a page to this file.")
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write a table to this file.")
@click.option("--overwrite", is_flag=True, help="Replace these files where they exist.")
def command(
    results: tuple[Path, ...], by: str, page: Path | None, table: Path | None, overwrite: bool
) -> None:
    """Set the watches of several analyses side by side, also of different weeks.

    RESULTS are result.json files or the folders that hold them. Where two analyses rode the same
    route, spreads are taken over the stations they share, and the change of each watch is given with its
    interval. Watches with no detectable difference share a rank.
    """
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from trackspread.compare.page import EXPLAINED, HEADS, cells, rank_csv, rank_page, tied
    from trackspread.compare.standings import standings
    from trackspread.results.words.trend import OTHER_CAUSES, change_sentences

    groups = standings(results, by)
    console = Console(width=None if sys.stdout.isatty() else 160)
    for group in groups:
        shown = Table(title=Text(group.title), title_justify="left", header_style="bold")
        for head in HEADS:
            shown.add_column(head)
        for row in group.rows:
            shown.add_row(*(Text(cell) for cell in cells(row, by)))
        console.print(shown)
        for words in (*group.cautions, *tied(group, by)):
            click.echo(words)
        for words in change_sentences(group.changes):
            click.echo(words)
        if group.changes:
            click.echo(OTHER_CAUSES)
    click.echo(EXPLAINED)
    if page is not None:
        write_new(page, rank_page(groups, by), overwrite)
    if table is not None:
        write_new(table, rank_csv(groups), overwrite)
