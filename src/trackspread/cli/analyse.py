"""``trackspread analyse``: from files to report, map, tables and layers."""

from __future__ import annotations

import re
import sys
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackspread.cli import OK, SOME_SET_ASIDE
from trackspread.cli.helpers import cores, helpers
from trackspread.cli.terminal import progress_bar, route_table, say_problems
from trackspread.errors import BadOption
from trackspread.options import Options

if TYPE_CHECKING:
    from trackspread.model import Analysis

_DEFAULT = Options()
_FLAGS: dict[str, str] = {}
"""The flag of each threshold."""


class _Decimal(click.types.FloatParamType):
    """A number; says how to write one."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            return float(value)
        except ValueError:
            self.fail(f"{value!r} is no number; write it with a point, such as 2.5", param, ctx)


def _number(flag: str, field: str, text: str) -> Any:
    default = getattr(_DEFAULT, field)
    kind = _Decimal() if isinstance(default, float) else int
    _FLAGS[field] = flag
    return click.option(flag, field, type=kind, default=default, show_default=True, help=text)


@click.command()
@click.argument("paths", nargs=-1, required=True)
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder for the results."
)
@click.option(
    "--rides", type=click.Path(path_type=Path), help="Table of rides (file,receiver,ride,start_pressed,note)."
)
@click.option("--reference", type=click.Path(path_type=Path), help="Surveyed or drawn line (GPX, GeoJSON).")
@_number("--segment", "segment_m", "Length of a segment, metres.")
@_number("--station-step", "station_step_m", "Distance of stations, metres.")
@_number("--reach", "reach_m", "Farther than this from the line a trace is away from it, metres.")
@_number("--gap", "gap_m", "Nothing is interpolated over more than this, metres.")
@_number("--corridor", "corridor_m", "Half width of the corridor that makes one route, metres.")
@_number("--steady", "steady_m", "A segment is steady up to this spread, metres.")
@_number("--torn", "torn_m", "A segment is torn above this spread, metres.")
@_number("--min-traces", "min_traces", "A segment with fewer traces is thin.")
@_number("--stretch-enter", "stretch_enter", "A stretch opens above this, standard deviations.")
@_number("--stretch-leave", "stretch_leave", "A stretch closes below this, standard deviations.")
@_number("--stretch-min", "stretch_min_m", "Shortest stretch, metres.")
@_number("--stretch-merge", "stretch_merge_m", "Longest break inside a stretch, metres.")
@_number("--settle-band", "settle_band", "A fix is settled within this, standard deviations …")
@_number("--settle-hold", "settle_hold_s", "… held for this long, seconds.")
@_number("--confidence", "confidence", "Level of all intervals.")
@_number("--seed", "seed", "Seed of what is drawn at random.")
@click.option(
    "--grid",
    type=click.Choice(["local", "utm"]),
    default=_DEFAULT.grid,
    show_default=True,
    help="Metric grid.",
)
@click.option("--laps", is_flag=True, help="Split files of repeated laps into rides.")
@click.option(
    "--publish", is_flag=True, help="Cut everything near the ends of each route, for showing to others."
)
@click.option("--hide-dates", is_flag=True, help="With --publish: remove clock dates.")
@click.option(
    "--basemap", metavar="URL", help="Tile address {z}/{x}/{y} for the map; without it the map stays offline."
)
@click.option("--attribution", default="", help="Attribution of the basemap, required with it.")
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    default=lambda: min(2, cores()),
    show_default="2, on a single core 1",
    help="Processes.",
)
@click.option(
    "--scheduler", metavar="ADDRESS", help="Dask scheduler in their place, such as tcp://127.0.0.1:8786."
)
@click.option("--no-cache", is_flag=True, help="Neither use nor fill the cache of parsed traces.")
@click.option("--quiet", is_flag=True, help="Print nothing but problems.")
def command(
    paths: tuple[str, ...], folder: Path, rides: Path | None, reference: Path | None, **given: Any
) -> int:
    """Analyse repeated traces of one or more routes.

    PATHS are files, folders, globs, .gz or .zip. Exit code 0: all used; 1: done, some input was set
    aside; 2: nothing could be done.
    """
    from trackspread.api import analyse_witnesses, read_witnesses, write_report
    from trackspread.readers.reference_line import read_reference
    from trackspread.reports.write import check_folder
    from trackspread.workers import load

    if given["basemap"] and not given["attribution"]:
        raise click.UsageError("--basemap needs --attribution: whose map it is must stand on it")
    options = _options(given)
    check_folder(folder)
    quiet = given["quiet"]
    with helpers(given["workers"] - 1, given["scheduler"]) as executor, progress_bar(quiet) as progress:
        if executor:
            executor.submit(load, "trackspread.readers")
            load("trackspread.pipeline.analyse")  # while the worker starts
        drawn = read_reference(reference) if reference is not None else ()
        witnesses, problems = read_witnesses(
            paths, rides=rides, progress=progress, executor=executor, cache=not given["no_cache"]
        )
        if executor:
            executor.submit(load, "trackspread.reports.page")
        analysis = analyse_witnesses(
            witnesses, options, reference=drawn, problems=problems, progress=progress, executor=executor
        )
        if given["publish"]:
            from trackspread.publish import cut_for_publishing

            analysis = cut_for_publishing(analysis, hide_dates=given["hide_dates"])
        write_report(
            analysis, folder, basemap=given["basemap"], attribution=given["attribution"], progress=progress,
            executor=executor,
        )  # fmt: skip
    say_problems(analysis)
    if not quiet:
        route_table(analysis)
        click.echo(f"Written to {folder}: open report.html")
    return _status(analysis)


def _options(given: dict[str, Any]) -> Options:
    try:
        return Options(**{field.name: given[field.name] for field in fields(Options) if field.name in given})
    except BadOption as error:
        field, _, rest = str(error).partition(": ")
        named = re.sub(r"\w+", lambda word: _FLAGS.get(word[0], word[0]), rest)
        raise BadOption(f"{_FLAGS.get(field, field)}: {named}") from None


def _status(analysis: Analysis) -> int:
    aside = analysis.problems or any(record.status == "set aside" for record in analysis.inputs)
    sys.stdout.flush()
    return SOME_SET_ASIDE if aside else OK
