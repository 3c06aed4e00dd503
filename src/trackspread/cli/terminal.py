"""What commands print: progress, problems, the table at the end."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from trackspread.errors import printable
from trackspread.system.progress import Progress
from trackspread.system.signals import silence

if TYPE_CHECKING:
    from trackspread.model import Analysis, Estimate, MedianEstimate, RouteResult


NOT_MEASURABLE = "not measurable"
EVERY_S = 10.0
"""Without a terminal, progress is told this often."""


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Progress | None]:
    """Give a progress callable: a bar with the time left on a terminal, else a line every ten seconds.

    Parameters
    ----------
    quiet : bool
        Tell nothing.

    Yields
    ------
    Progress or None
        ``None`` when quiet.
    """
    if quiet:
        yield None
        return
    if not sys.stderr.isatty():
        yield _lines()
        return
    from rich.console import Console
    from rich.progress import BarColumn, TaskID, TaskProgressColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    columns = (TextColumn("{task.description:<12}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Bars(*columns, console=Console(stderr=True), transient=True) as bars:
        tasks: dict[str, TaskID] = {}

        def tell(phase: str, share: float) -> None:
            if phase not in tasks:
                tasks[phase] = bars.add_task(phase.capitalize(), total=1.0)
            bars.update(tasks[phase], completed=share)

        yield tell


def _lines() -> Progress:
    """Return a progress callable that prints a line from time to time: a log stays short."""
    told_s = time.monotonic()
    begun: dict[str, tuple[float, float]] = {}

    def tell(phase: str, share: float) -> None:
        nonlocal told_s
        now_s = time.monotonic()
        start_s, start_share = begun.setdefault(phase, (now_s, share))
        if now_s - told_s < EVERY_S or share >= 1.0:
            return
        told_s = now_s
        left = ""
        if share > start_share:
            left = f", {_about((1.0 - share) * (now_s - start_s) / (share - start_share))} left"
        try:
            click.echo(f"{phase.capitalize()}: {share:.0%}{left}", err=True)
        except OSError:
            silence(sys.stderr)  # who cannot be told how far it is still gets the result

    return tell


def _about(seconds: float) -> str:
    if seconds < 90.0:
        return f"about {max(1, round(seconds))} s"
    return f"about {round(seconds / 60.0)} min" if seconds < 5400.0 else f"about {seconds / 3600.0:.1f} h"


def say_problems(analysis: Analysis) -> None:
    """Print what is wrong to standard error, one line each.

    Every problem, every trace set aside with the reason, every recording of several rides, every
    clock that was mended.

    Parameters
    ----------
    analysis : Analysis
    """
    from trackspread.pipeline.inputs import unknown_watches
    from trackspread.results.words.reasons import said
    from trackspread.rides.clocks import WEEK_NUMBER
    from trackspread.rides.laps import LAPS
    from trackspread.rides.resumed import ELSEWHERE, RESUMED
    from trackspread.rides.rode_on import RODE_ON
    from trackspread.rides.turned_back import THERE_AND_BACK

    if told := unknown_watches(analysis.inputs):
        click.echo(said(told), err=True)
    for line in analysis.problems:
        click.echo(line, err=True)
    for record in analysis.inputs:
        if record.status == "set aside":
            click.echo(printable(f"{record.file}: set aside: {said(record.reason)}", 600), err=True)
        for finding in record.findings:
            if finding.code in (LAPS, RESUMED, ELSEWHERE, RODE_ON, THERE_AND_BACK, WEEK_NUMBER):
                click.echo(printable(f"{record.file}: {finding.text} ({finding.count})", 600), err=True)


def say_answer(analysis: Analysis) -> None:
    """Print the one sentence that the report begins with.

    Parameters
    ----------
    analysis : Analysis
    """
    from trackspread.results.words.comparison import verdict_sentence

    click.echo(printable(verdict_sentence(analysis), 600))


def watch_table(analysis: Analysis) -> None:
    """Print one row a watch over all its rides: spread with its interval, first fix, share astray, group.

    Parameters
    ----------
    analysis : Analysis
        Without a comparison nothing is printed.
    """
    from trackspread.results.words.names import shown_name

    if analysis.comparison is None:
        return
    rows = [
        (
            shown_name(one.receiver), str(one.rides), _with_interval(one.spread, "m"),
            _median_text(one.first_fix_s), _share(one.stray_share), one.group or "–",
        )
        for one in analysis.comparison.receivers
    ]  # fmt: skip
    _print_table(("Watch", "Rides", "Spread", "First fix", "Astray", "Group"), rows)


def route_table(analysis: Analysis) -> None:
    """Print one row a route: traces, length, spread with its interval, stretches, verdicts.

    Parameters
    ----------
    analysis : Analysis
    """
    words = ("steady", "wavering", "torn", "thin")
    rows = []
    for route in analysis.routes:
        verdicts: list[str] = [segment.verdict for segment in route.segments]
        rows.append(
            (
                printable(route.title or route.name, 24), str(len(route.traces)), f"{route.length_m:.0f} m",
                _with_interval(route.told_spread, "m"), _stretches_text(route),
                *(str(verdicts.count(word)) for word in words),
            )
        )  # fmt: skip
    _print_table(("Route", "Traces", "Length", "Spread", "Stretches", *words), rows)
    level = f"Intervals are {100 * float(analysis.settings['confidence']):g} %"
    grouped = analysis.comparison is not None and any(one.group for one in analysis.comparison.receivers)
    click.echo(f"{level}. Same letter: no detectable difference." if grouped else f"{level}.")


def _print_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(title=None, header_style="bold")
    for number, head in enumerate(heads):
        table.add_column(head, justify="right" if number else "left")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    Console(width=None if sys.stdout.isatty() else 120).print(table)


def _with_interval(figure: Estimate, unit: str) -> str:
    """Return a figure with its interval, or a dash."""
    if figure.value != figure.value:
        return "–"
    return f"{figure.value:.1f} {unit} ({figure.low:.1f}–{figure.high:.1f})"


def _stretches_text(route: RouteResult) -> str:
    """Return the number of stretches, settling phases aside; a dash where nothing could be held together."""
    stray = sum(stretch.cause != "settling" for stretch in route.stretches)
    return str(stray) if stray or route.is_judged else "–"


def _share(figure: Estimate) -> str:
    return "–" if figure.value != figure.value else f"{100 * figure.value:.0f} %"


def _median_text(figure: MedianEstimate) -> str:
    return NOT_MEASURABLE if figure.median != figure.median else f"{figure.median:.0f} s"
