"""One run: analyse what was read, write it all, and what the page then says of it."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trackspread import api
from trackspread.errors import Cancelled, printable
from trackspread.model import Analysis, Recordings, RouteResult
from trackspread.options import Options
from trackspread.publish.cut import cut_for_publishing
from trackspread.report.answer import Row, rows_of
from trackspread.results.rounding import (
    counted,
    kilometres,
    plain,
    rounded,
    rounded_interval,
    unbroken,
    with_interval,
)
from trackspread.results.words.comparison import verdict_sentence
from trackspread.results.words.reasons import said
from trackspread.results.words.verdicts import VERDICT_GLYPHS
from trackspread.system.extras import is_there
from trackspread.system.placing import whole
from trackspread.system.progress import Progress
from trackspread.web.phases import overall
from trackspread.web.reading import Reading
from trackspread.web.results import ZIP_NAME, Results, pack, results_of

if TYPE_CHECKING:
    from trackspread.film.storyboard import Scene

STILL_HEIGHT = 1080  # px
SHAREABLE = "shareable"
SHARED_REPORT, SHARED_ZIP = f"{SHAREABLE}/report.html", f"{SHAREABLE}/{ZIP_NAME}"
"""Where the copy with cut ends lies below the result, and what is handed out of it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What is to be made: with which thresholds, with both ends cut or not, with stills or without."""

    options: Options
    publish: bool = False
    hide_dates: bool = False
    film: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """An analysis, its files, and the stills with their words, in order of the film list.

    The page shows it from the first moment on: without files at first, then with those that are there, the
    archive of all last. ``to_come`` is the number of stills that are still to be drawn.
    """

    analysis: Analysis
    results: Results
    stills: tuple[dict[str, str], ...] = ()
    to_come: int = 0
    shareable: bool = False

    def told(self) -> dict[str, Any]:
        """Return the headline of each route, the stills, what was set aside, and the files to save.

        Returns
        -------
        dict
            Plain texts, which the page sets as text.
        """
        sizes = self.results.sizes()
        packed = sizes.pop(ZIP_NAME, None)
        whole_sizes = {name: size for name, size in sizes.items() if not name.startswith(f"{SHAREABLE}/")}
        return {
            "answer": _answer(self.analysis),
            "watches": [_together(_watch(row)) for row in rows_of(self.analysis)],
            "shareable": _shareable(sizes) if self.shareable else None,
            "routes": [_together(_headline(route)) for route in self.analysis.routes],
            "published": self.analysis.published,
            "stills": list(self.stills),
            "to_come": self.to_come,
            "aside": [
                printable(f"{record.file}: {said(record.reason)}", 400)
                for record in self.analysis.inputs
                if record.status == "set aside"
            ],
            "zip": None if packed is None else {"name": ZIP_NAME, "size": packed},
            "files": [{"name": name, "size": size} for name, size in whole_sizes.items()],
        }


def can_draw() -> bool:
    """Whether stills can be drawn: their library is optional.

    Returns
    -------
    bool
    """
    return is_there("matplotlib")


def run(
    reading: Reading,
    wanted: Wanted,
    target: Path,
    progress: Progress,
    show: Callable[[Outcome], None] = lambda outcome: None,
) -> Outcome:
    """Analyse and write everything into a new folder, or leave no such folder behind.

    Ends are cut for publishing by the one secret cut of this machine. Stopped while stills are drawn, it ends
    with those that are there.

    Parameters
    ----------
    reading : Reading
        What was dropped, corrected.
    wanted : Wanted
    target : Path
        The folder to be; its archive lies in it too.
    progress : Progress
        Told one share of the whole; raises `Cancelled` to stop the run.
    show : callable
        Gets what there is as soon as there is more.

    Returns
    -------
    Outcome

    Raises
    ------
    TrackspreadError
        Nothing could be analysed or written.
    Cancelled
        It was stopped before there was any still.
    """
    tell = overall(progress, film=wanted.film)
    recordings = Recordings(witnesses=reading.witnesses, problems=(*reading.problems, *reading.doubts))
    analysis = api.analyse(recordings, wanted.options, progress=tell)
    if wanted.publish:
        analysis = cut_for_publishing(analysis, hide_dates=wanted.hide_dates)
    outcome = Outcome(analysis=analysis, results=Results(folder=target, names=()))
    show(outcome)
    try:
        written = api.write_report(analysis, target, progress=tell)
        outcome = replace(outcome, results=results_of(target, written))
        try:
            for more in _filmed(outcome, tell) if wanted.film and can_draw() else ():
                show(outcome := more)
            tell("packing", 0.0)
        except Cancelled:
            if not outcome.stills:
                raise
            outcome = replace(outcome, to_come=0)
        return replace(outcome, results=pack(target, [target / name for name in outcome.results.names]))
    except BaseException:
        shutil.rmtree(target, ignore_errors=True)
        raise


def shared(outcome: Outcome, progress: Progress) -> Outcome:
    """Return the outcome with a copy beside it that can be shown: ends cut, and nothing analysed again.

    Parameters
    ----------
    outcome : Outcome
    progress : Progress
        Told the phases of the writing; raises `Cancelled` to stop it.

    Returns
    -------
    Outcome
        With `SHARED_REPORT` and `SHARED_ZIP` among its files.

    Raises
    ------
    NothingToAnalyse
        No route is longer than its cuts; no copy is left then.
    """
    folder = outcome.results.folder / SHAREABLE
    shutil.rmtree(folder, ignore_errors=True)
    try:
        written = api.write_report(cut_for_publishing(outcome.analysis), folder, progress=progress)
        progress("packing", 0.0)
        pack(folder, written)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    results = outcome.results
    for name in (SHARED_REPORT, SHARED_ZIP):
        results = results.with_one(name)
    return replace(outcome, results=results, shareable=True)


def _shareable(sizes: dict[str, int]) -> dict[str, Any]:
    return {"report": SHARED_REPORT, "zip": {"name": SHARED_ZIP, "size": sizes[SHARED_ZIP]}}


def _answer(analysis: Analysis) -> str:
    return unbroken(printable(verdict_sentence(analysis), 600))


def _together(texts: dict[str, str]) -> dict[str, str]:
    """Keep numbers and their units on one line."""
    return {name: unbroken(text) for name, text in texts.items()}


def _watch(row: Row) -> dict[str, str]:
    """Return what the page says of one watch over all its rides and routes."""
    spread = row.spreads[0] if len(row.spreads) == 1 else None
    strays = [e.value for e in row.strays if isfinite(e.value)]
    median = row.median_fix.median
    return {
        "name": row.name,
        "group": row.group,
        "spread": with_interval(*rounded_interval(spread.value, spread.low, spread.high), "m")
        if spread is not None and isfinite(spread.value)
        else "not known",
        "first_fix": f"{plain(rounded(median, 0))} s" if isfinite(median) else "unknown: no start noted",
        "astray": f"{plain(rounded(100 * strays[0], 0))} %" if len(strays) == 1 else "unknown",
    }


def _filmed(outcome: Outcome, tell: Progress) -> Iterator[Outcome]:
    """Give the outcome with no still, with one, two, …, and at last with the sequence too."""
    from trackspread.film.canvas import ASPECT
    from trackspread.film.sequence import sequence_page
    from trackspread.film.stills import still
    from trackspread.film.storyboard import scenes
    from trackspread.film.write import SEQUENCE, STILLS

    made = scenes(outcome.analysis, ASPECT)
    shots = _shots(made)
    yield (outcome := replace(outcome, to_come=len(shots)))
    folder = outcome.results.folder
    (folder / STILLS).mkdir()
    for number, (scene, shot, words) in enumerate(shots):
        tell("stills", number / len(shots))
        with whole(folder / words["name"]) as part:
            part.write_bytes(still(scene, shot, STILL_HEIGHT))
        outcome = replace(
            outcome, results=outcome.results.with_one(words["name"]), stills=(*outcome.stills, words),
            to_come=len(shots) - number - 1,
        )  # fmt: skip
        yield outcome
    with whole(folder / SEQUENCE) as part:
        part.write_bytes(sequence_page(made).encode("utf-8", "replace"))
    tell("stills", 1.0)
    yield replace(outcome, results=outcome.results.with_one(SEQUENCE))


def _shots(made: Sequence[Scene]) -> list[tuple[Any, Any, dict[str, str]]]:
    """Return scene and shot of every still with what the page says of it."""
    from trackspread.film.write import STILLS, still_name

    return [
        (
            scene,
            shot,
            {
                "name": f"{STILLS}/{still_name(made, scene, shot, STILL_HEIGHT)}",
                "title": shot.title if shot.kind == "whole" else f"{scene.name}, {shot.title}",
                "verdict": f"{VERDICT_GLYPHS[shot.verdict]} {shot.verdict}" if shot.verdict else "",
                "words": unbroken("; ".join(filter(None, shot.lines[:2]))),
            },
        )
        for scene in made
        for shot in scene.shots
    ]


def _headline(route: RouteResult) -> dict[str, str]:
    told = route.told_spread
    spread = rounded_interval(told.value, told.low, told.high)
    verdicts = Counter(segment.verdict for segment in route.segments)
    return {
        "name": printable(route.title or route.name, 120),
        "spread": with_interval(*spread, "m"),
        "of": f"{counted(len(route.traces), 'trace')} over {kilometres(rounded(route.length_m, 0))}",
        "verdicts": f"Of {counted(len(route.segments), 'segment')}: "
        + ", ".join(f"{verdicts[verdict]} {verdict}" for verdict in VERDICT_GLYPHS if verdicts[verdict]),
        "reason": printable(said(told.reason), 200),
    }
