"""One run: analyse what was read, write it all, and what the page then says of it."""

from __future__ import annotations

import shutil
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trackspread import api
from trackspread.errors import printable
from trackspread.model import Analysis, Recordings, RouteResult
from trackspread.options import Options
from trackspread.publish.cut import cut_for_publishing
from trackspread.report.style import VERDICT_GLYPHS
from trackspread.results.rounding import counted, kilometres, rounded, rounded_interval, with_interval
from trackspread.results.words.reasons import said
from trackspread.system.progress import Progress
from trackspread.web.phases import overall
from trackspread.web.reading import Reading
from trackspread.web.results import ZIP_NAME, Results, pack

STILL_HEIGHT = 1080


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What is to be made: with which thresholds, with both ends cut or not, with stills or without."""

    options: Options
    publish: bool = False
    hide_dates: bool = False
    film: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """The finished analysis, its files, and the stills with their words, in order of the film list."""

    analysis: Analysis
    results: Results
    stills: tuple[dict[str, str], ...]

    def told(self) -> dict[str, Any]:
        """Return the headline of each route, the stills, what was set aside, and the files to save."""
        sizes = self.results.sizes()
        return {
            "routes": [_headline(route) for route in self.analysis.routes],
            "published": self.analysis.published,
            "stills": list(self.stills),
            "aside": [
                printable(f"{record.file}: {said(record.reason)}", 400)
                for record in self.analysis.inputs
                if record.status == "set aside"
            ],
            "zip": {"name": ZIP_NAME, "size": sizes.pop(ZIP_NAME)},
            "files": [{"name": name, "size": size} for name, size in sizes.items()],
        }


def run(reading: Reading, wanted: Wanted, target: Path, progress: Progress) -> Outcome:
    """Analyse and write everything into the new folder ``target``, or leave no such folder behind.

    Ends are cut for publishing by the one secret cut of this machine.
    """
    tell = overall(progress, film=wanted.film)
    recordings = Recordings(witnesses=reading.witnesses, problems=(*reading.problems, *reading.doubts))
    analysis = api.analyse(recordings, wanted.options, progress=tell)
    if wanted.publish:
        analysis = cut_for_publishing(analysis, hide_dates=wanted.hide_dates)
    try:
        written = api.write_report(analysis, target, progress=tell)
        film, stills = _film(analysis, target, tell) if wanted.film else ([], ())
        tell("packing", 0.0)
        return Outcome(analysis=analysis, results=pack(target, [*written, *film]), stills=stills)
    except BaseException:
        shutil.rmtree(target, ignore_errors=True)
        raise


def _film(analysis: Analysis, target: Path, tell: Progress) -> tuple[list[Path], tuple[dict[str, str], ...]]:
    """Write stills and sequence; return the files, and the words of each still."""
    from trackspread.film.canvas import ASPECT
    from trackspread.film.storyboard import scenes
    from trackspread.film.write import still_name, write_film

    made = scenes(analysis, ASPECT)
    files = write_film(made, target, sizes=(STILL_HEIGHT,), progress=tell)
    stills = [
        {
            "name": f"stills/{still_name(made, scene, shot, STILL_HEIGHT)}",
            "title": shot.title if shot.kind == "whole" else f"{scene.name}, {shot.title}",
            "verdict": f"{VERDICT_GLYPHS[shot.verdict]} {shot.verdict}" if shot.verdict else "",
            "words": "; ".join(filter(None, shot.lines[:2])),
        }
        for scene in made
        for shot in scene.shots
    ]
    return files, tuple(stills)


def _headline(route: RouteResult) -> dict[str, str]:
    spread = rounded_interval(route.spread.value, route.spread.low, route.spread.high)
    verdicts = Counter(segment.verdict for segment in route.segments)
    return {
        "name": printable(route.name, 120),
        "spread": with_interval(*spread, "m"),
        "of": f"{counted(len(route.traces), 'trace')} over {kilometres(rounded(route.length_m, 0))}",
        "verdicts": ", ".join(
            f"{verdicts[verdict]} {verdict}" for verdict in VERDICT_GLYPHS if verdicts[verdict]
        ),
        "reason": printable(said(route.spread.reason), 200),
    }
