"""``trackspread analyse``: from files to report, map, tables and layers."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackspread.cli import OK, SOME_SET_ASIDE
from trackspread.cli.files import places_beside
from trackspread.cli.helpers import cores, helpers
from trackspread.cli.terminal import progress_bar, route_table, say_answer, say_problems, watch_table
from trackspread.cli.thresholds import options_of, threshold
from trackspread.errors import printable
from trackspread.options import Options
from trackspread.system.signals import silence

if TYPE_CHECKING:
    from trackspread.model import Analysis, Floats


@click.command()
@click.argument("paths", nargs=-1, required=True)
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder for the results."
)
@click.option(
    "--rides",
    type=click.Path(path_type=Path),
    help="Table of rides (file,receiver,ride,start_pressed,fix_seen,firmware,route,colour,note).",
)
@click.option("--reference", type=click.Path(path_type=Path), help="Surveyed or drawn line (GPX, GeoJSON).")
@threshold("segment_m", "Length of a segment, metres.")
@threshold("station_step_m", "Distance between stations, metres.")
@threshold("reach_m", "A trace is off-route beyond this distance from the line, metres.")
@threshold("gap_m", "Longer gaps are left empty, metres.")
@threshold("corridor_m", "Traces within this distance are one route, metres.")
@threshold("steady_m", "A segment is steady up to this spread, metres.")
@threshold("torn_m", "A segment is torn above this spread, metres.")
@threshold("steady_share", "Share of rides that may be astray on a steady segment.")
@threshold("torn_share", "Share of rides astray from which a segment is torn.")
@threshold("min_traces", "A segment with fewer traces is thin.")
@threshold("stretch_enter", "A stray stretch begins above this, standard deviations.")
@threshold("stretch_leave", "It ends below this, standard deviations.")
@threshold("stretch_min_m", "Shortest stray stretch, metres.")
@threshold("stretch_merge_m", "Longest break inside a stretch, metres.")
@threshold("settle_band", "A fix is settled within this, standard deviations …")
@threshold("settle_hold_s", "… held for this long, seconds.")
@threshold("confidence", "Confidence of all intervals.")
@click.option(
    "--grid",
    type=click.Choice(["local", "utm"]),
    default=Options().grid,
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
@click.option(
    "--ground",
    type=click.Path(path_type=Path),
    help="Lines or areas under the map (GeoJSON, GeoPackage).",
)
@click.option(
    "--places",
    type=click.Path(path_type=Path),
    help="Named places (name,lon,lat or name,station); without it places.csv beside the traces.",
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
@click.option("--no-cache", is_flag=True, help="Neither use nor fill the cache of parsed traces and steps.")
@click.option("--quiet", is_flag=True, help="Print nothing but problems.")
def command(
    paths: tuple[str, ...], folder: Path, rides: Path | None, reference: Path | None, **given: Any
) -> int:
    """Analyse repeated traces of one or more routes.

    PATHS are files, folders, globs, .gz or .zip. Exit code 0: all used; 1: done, some input was set
    aside; 2: nothing could be done.
    """
    from trackspread.system.workers import Workers, do_ahead, load

    if given["basemap"] and not given["attribution"]:
        raise click.UsageError("--basemap needs --attribution: whose map it is must stand on it")
    if given["hide_dates"] and not given["publish"]:
        raise click.UsageError("--hide-dates needs --publish: nothing else is taken out")
    options = options_of(given)
    quiet = given["quiet"]
    with helpers(given["workers"] - 1, given["scheduler"]) as executor:
        do_ahead(executor, partial(load, "trackspread.readers.read"))
        if isinstance(executor, Workers):
            executor.errand = partial(load, "trackspread.pipeline.analyse")
        from trackspread import api
        from trackspread.report.write import check_folder, ready_to_draw

        check_folder(folder)
        with progress_bar(quiet) as progress:
            drawn = _reference(reference)
            recordings = api.read(
                paths, rides=rides, progress=progress, executor=executor, cache=not given["no_cache"]
            )
            do_ahead(executor, ready_to_draw)
            analysis = api.analyse(
                recordings, options, reference=drawn, progress=progress, executor=executor,
                cache=not given["no_cache"],
            )  # fmt: skip
            if given["publish"]:
                from trackspread.publish.cut import cut_for_publishing

                analysis = cut_for_publishing(analysis, hide_dates=given["hide_dates"])
        unheard = _say(analysis, quiet)
        with progress_bar(quiet) as progress:
            api.write_report(
                analysis, folder, basemap=given["basemap"], attribution=given["attribution"],
                ground=given["ground"], places=given["places"] or places_beside(paths), progress=progress,
                executor=executor,
            )  # fmt: skip
    if unheard:
        raise unheard
    if not quiet:
        click.echo(f"Written to {printable(str(folder), 300)}: open report.html")
    return _status(analysis)


def _reference(file: Path | None) -> tuple[tuple[Floats, Floats], ...]:
    if file is None:
        return ()
    from trackspread.readers.reference_line import read_reference

    return read_reference(file)


def _say(analysis: Analysis, quiet: bool) -> OSError | None:
    """Tell what was found before the files, which take their time; return why it cannot be told."""
    try:
        say_problems(analysis)
        if not quiet:
            say_answer(analysis)
            watch_table(analysis)
            route_table(analysis)
            sys.stdout.flush()
    except OSError as error:
        silence(sys.stdout)
        return error
    return None


def _status(analysis: Analysis) -> int:
    aside = analysis.problems or any(record.status == "set aside" for record in analysis.inputs)
    sys.stdout.flush()
    return SOME_SET_ASIDE if aside else OK
