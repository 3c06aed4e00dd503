"""``trackspread plan``: how many rides are enough."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trackspread.cli.files import write_new
from trackspread.cli.thresholds import FiniteRange

if TYPE_CHECKING:
    from trackspread.planning.table import RidePlan


MOST_IN_FULL = 2
"""Of more plans each is one row; ``--csv`` has them in full."""


@click.command()
@click.argument("pilot", required=False, type=click.Path(path_type=Path))
@click.option(
    "--spread-known-to", "within", type=FiniteRange(1.0, 90.0), default=20.0, show_default=True,
    metavar="PER CENT", help="How well the spread shall be known.",
)  # fmt: skip
@click.option(
    "--ratio", type=FiniteRange(1.01, 100.0), metavar="R",
    help="Ratio of two watches' standard deviations that shall be detected.  [default: as in "
    "the pilot, else 1.5]",
)  # fmt: skip
@click.option(
    "--power", type=FiniteRange(0.1, 0.999), default=0.8, show_default=True,
    help="In which share of such campaigns they shall be told apart.",
)  # fmt: skip
@click.option(
    "--confidence", type=FiniteRange(0.5, 0.999), default=0.95, show_default=True,
    help="Level of intervals, and 1 - the risk of finding a difference between equal watches.",
)  # fmt: skip
@click.option(
    "--independent-lengths", "lengths", type=FiniteRange(0.3, 1e5), metavar="K",
    help="How many independent values one ride gives.  [default: as in the pilot, else 1]",
)  # fmt: skip
@click.option(
    "--common", type=FiniteRange(0.0, 100.0), metavar="C",
    help="What both share (the rider's line) over the better watch's own standard deviation.  [default: "
    "as in the pilot, else 0]",
)  # fmt: skip
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write the table to this file.")
@click.option("--chart", type=click.Path(path_type=Path), help="Write a chart (SVG) to this file.")
@click.option("--overwrite", is_flag=True, help="Replace these files where they exist.")
def command(
    pilot: Path | None, within: float, ratio: float | None, power: float, confidence: float,
    lengths: float | None, common: float | None, table: Path | None, chart: Path | None, overwrite: bool,
) -> None:  # fmt: skip
    """Say how many rides are enough.

    PILOT is the result.json, or the folder, of a first analysis; without it the options count. Answers
    how many rides it takes until the spread is known to ± a percentage, and until two watches whose
    standard deviations differ by a ratio can be told apart.
    """
    from trackspread.planning.table import plan_csv, ride_plans

    plans = ride_plans(pilot, within / 100.0, ratio, power, confidence, lengths, common)
    if len(plans) > MOST_IN_FULL:
        _print_short(plans)
    else:
        for plan in plans:
            _print(plan)
    if table is not None:
        write_new(table, plan_csv(plans), overwrite)
    if chart is not None:
        from trackspread.planning.chart import plan_chart

        write_new(chart, plan_chart(plans[0]), overwrite)


def _print_short(plans: Sequence[RidePlan]) -> None:
    """Print one row a plan, so that many of them can be read together."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from trackspread.planning.table import SHORT_HEADS, SHORT_WORDS

    shown = Table(header_style="bold")
    for i, head in enumerate(SHORT_HEADS):
        shown.add_column(head, justify="right" if i else "left")
    for plan in plans:
        shown.add_row(Text(plan.title), *plan.short_cells())
    Console(width=None if sys.stdout.isatty() else 120).print(shown)
    for words in SHORT_WORDS:
        click.echo(words.format(within=plans[0].within, power=plans[0].power))


def _print(plan: RidePlan) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from trackspread.planning.table import HEADS

    shown = Table(title=Text(plan.title), title_justify="left", header_style="bold")
    for head in HEADS:
        shown.add_column(head, justify="right")
    for row in plan.rows:
        shown.add_row(*plan.cells(row))
    Console(width=None if sys.stdout.isatty() else 120).print(shown)
    for words in (*plan.answers, *plan.assumptions):
        click.echo(words)
