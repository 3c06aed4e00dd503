"""``trackspread film``: stills, the full-screen sequence, and on request a video."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

from trackspread.cli import OK, SOME_SET_ASIDE
from trackspread.errors import BadOption, printable

PUBLISHED = "published"
DATES_LEFT = "cut with its dates left in; analyse the traces again with --publish --hide-dates"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--size",
    "sizes",
    type=click.Choice(["1080", "2160"]),
    multiple=True,
    help="Height of the stills, pixels; both if not given. A video has the larger one given, else 1080.",
)
@click.option(
    "--transparent", is_flag=True, help="Beside every still also one without a ground, to lay over pictures."
)
@click.option("--dark", is_flag=True, help="Dark ground, for stills and video.")
@click.option(
    "--publish",
    is_flag=True,
    help="Cut everything near the ends of each route first; written to FOLDER/published.",
)
@click.option("--hide-dates", is_flag=True, help="With --publish: remove clock dates.")
@click.option("--video", type=click.Path(path_type=Path), metavar="FILE", help="Also a video, .mp4 or .webm.")
@click.option(
    "--places", type=click.Path(path_type=Path), metavar="FILE",
    help="Named places to write on the stills (name,lon,lat or name,station).",
)  # fmt: skip
@click.option("--quiet", is_flag=True, help="Print nothing.")
def command(folder: Path, sizes: tuple[str, ...], video: Path | None, publish: bool, **given: Any) -> int:
    """Make stills and a full-screen sequence from the results in FOLDER.

    The film list of the report says what to show: stills/ holds a picture in 16:9 of each route and of each
    place on it, sequence.html flies from one to the next. Both open without a network.
    """
    from trackspread.cli.terminal import progress_bar
    from trackspread.film.canvas import ASPECT, FONT, Ground
    from trackspread.film.stills import SIZES
    from trackspread.film.storyboard import scenes
    from trackspread.film.video import NoEncoder, checked, write_video
    from trackspread.film.write import write_film
    from trackspread.publish.cut import cut_for_publishing
    from trackspread.report.backdrop import NO_BACKDROP, read_backdrop
    from trackspread.report.drawing import letters_in_no_font
    from trackspread.results.arrays import load_analysis

    if given["hide_dates"] and not publish:
        raise click.UsageError("--hide-dates needs --publish: nothing else is taken out")
    missing = ""
    if video:
        try:
            checked(video)
        except NoEncoder as error:
            missing, video = f"{error}  (stills and sequence are made)", None
    analysis = load_analysis(folder)
    if given["hide_dates"] and analysis.published and not math.isnan(analysis.created_s):
        raise BadOption(str(folder), DATES_LEFT)
    target, cut = folder, None
    if publish and not analysis.published:
        target = folder / PUBLISHED
        analysis = cut = cut_for_publishing(analysis, hide_dates=given["hide_dates"])
    clear = [Ground(dark=given["dark"], transparent=True)] if given["transparent"] else []
    grounds = (Ground(dark=given["dark"]), *clear)
    heights = [int(size) for size in sizes]
    named = read_backdrop(None, given["places"]) if given["places"] else NO_BACKDROP
    made = scenes(analysis, ASPECT, named)
    with progress_bar(given["quiet"]) as progress:
        files = write_film(made, target, sizes=heights or SIZES, grounds=grounds, kept=cut, progress=progress)
        if video:
            write_video(
                made, video, height=max(heights, default=SIZES[0]), ground=Ground(dark=given["dark"]),
                progress=progress,
            )  # fmt: skip
    if not given["quiet"]:
        _say(len(files) - 1, target, video, analysis.published)
        if boxes := letters_in_no_font("".join(name for scene in made for name in scene.receivers), FONT):
            click.echo(f"No font here has {' '.join(boxes)}: the stills show boxes instead.", err=True)
    if missing:
        click.echo(missing, err=True)
    return SOME_SET_ASIDE if missing else OK


def _say(stills: int, folder: Path, video: Path | None, published: bool) -> None:
    shown = printable(str(folder), 300)
    click.echo(f"{stills} stills in {shown}/stills, and {shown}/sequence.html")
    if video:
        click.echo(f"Video: {printable(str(video), 300)}")
    if not published:
        click.echo(
            "Private: they show where rides start and end. Before you show them, run again with --publish."
        )
