"""What commands print: progress, problems, the table at the end."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from trackspread.errors import printable

if TYPE_CHECKING:
    from trackspread.model import Analysis, Estimate, MedianEstimate, RouteResult


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Callable[[str, float], None] | None]:
    """Give a progress callable that draws a bar on a terminal; None when piped or quiet."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description:<12}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        tasks: dict[str, TaskID] = {}

        def tell(phase: str, share: float) -> None:
            if phase not in tasks:
                tasks[phase] = bar.add_task(phase, total=1.0)
            bar.update(tasks[phase], completed=share)

        yield tell


def say_problems(analysis: Analysis) -> None:
    """Print every problem, and every trace set aside with the reason, one line each, to standard error."""
    for line in analysis.problems:
        click.echo(line, err=True)
    for record in analysis.inputs:
        if record.status == "set aside":
            click.echo(printable(f"{record.file}: set aside: {record.reason}", 600), err=True)


def route_table(analysis: Analysis) -> None:
    """Print one row a route: traces, length, spread with its interval, first fix, stretches, verdicts."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title=None, header_style="bold")
    for name in (
        "Route",
        "Traces",
        "Length",
        "Spread",
        "First fix",
        "Stretches",
        "steady",
        "wavering",
        "torn",
        "thin",
    ):
        table.add_column(name, justify="left" if name == "Route" else "right")
    for route in analysis.routes:
        verdicts = [segment.verdict for segment in route.segments]
        counts = [str(verdicts.count(word)) for word in ("steady", "wavering", "torn", "thin")]
        table.add_row(
            route.name, str(len(route.traces)), f"{route.length_m:.0f} m", with_interval(route.spread, "m"),
            first_fix_text(route), str(len(route.stretches)), *counts,
        )  # fmt: skip
    Console(width=None if sys.stdout.isatty() else 120).print(table)
    click.echo("Intervals are 95 %." if analysis.settings["confidence"] == 0.95 else
               f"Intervals are {100 * float(analysis.settings['confidence']):g} %.")  # fmt: skip


def with_interval(figure: Estimate, unit: str) -> str:
    """Return a figure with its interval, or a dash."""
    if figure.value != figure.value:
        return "–"
    return f"{figure.value:.1f} {unit} ({figure.low:.1f}–{figure.high:.1f})"


def first_fix_text(route: RouteResult) -> str:
    """Return the first fix of every receiver, shortest words."""
    return "; ".join(_median_text(receiver.first_fix_s) for receiver in route.receivers) or "–"


def _median_text(figure: MedianEstimate) -> str:
    return "not measurable" if figure.median != figure.median else f"{figure.median:.0f} s"
