"""Rows of the table, and the way from a world to its analysis."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trackspread import api
from trackspread.model import Analysis, RouteResult
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.words.reasons import said
from world import World
from world.witnesses import as_witnesses

HEAD = "| case | figure | value | ± | target | met | note |\n|---|---|---|---|---|---|---|"


@dataclass(frozen=True)
class Row:
    """One figure with its Monte Carlo standard error, and the bounds it has to keep."""

    case: str
    figure: str
    value: float
    error: float = float("nan")
    low: float = -np.inf
    high: float = np.inf
    note: str = ""

    def met(self) -> str:
        """Return yes, no, or whether the bound lies within two standard errors."""
        if self.target() == "–":
            return "–"
        beyond = max(self.low - self.value, self.value - self.high)
        if beyond <= 0:
            return "yes"
        return "within error" if beyond <= 2 * self.error else "**no**"

    def target(self) -> str:
        if self.low == self.high:
            return f"{self.low:g}"
        if np.isfinite(self.low) and np.isfinite(self.high):
            return f"{self.low:g} to {self.high:g}"
        return (
            f"≥ {self.low:g}"
            if np.isfinite(self.low)
            else f"≤ {self.high:g}"
            if np.isfinite(self.high)
            else "–"
        )

    def markdown(self) -> str:
        error = f"{self.error:.2g}" if np.isfinite(self.error) else "–"
        cells = (self.case, self.figure, f"{self.value:.4g}", error, self.target(), self.met(), self.note)
        return f"| {' | '.join(cells)} |"


def analysed(world: World, options: Options | None = None, *, by_files: bool = False) -> RouteResult:
    """Analyse a world and return its one route: by GPX files and rides.csv, or straight from witnesses."""
    if not by_files:
        return only_route(analyse(as_witnesses(world), options or Options()))
    with tempfile.TemporaryDirectory() as folder:
        world.write_gpx(folder)
        return only_route(api.analyse(Path(folder), options))


def only_route(analysis: Analysis) -> RouteResult:
    if len(analysis.routes) != 1 or any(i.status == "set aside" for i in analysis.inputs):
        aside = [f"{i.file}: {said(i.reason)}" for i in analysis.inputs if i.status == "set aside"]
        raise AssertionError(f"{len(analysis.routes)} routes found where one was ridden; {aside}")
    return analysis.routes[0]


def share(hits: float, of: float) -> tuple[float, float]:
    """Return a share and its binomial standard error."""
    near = (hits + 1) / (of + 2)  # so that all or none of a few is not taken for certainty
    return hits / of, float(np.sqrt(near * (1 - near) / of))


def mean(values: list[float]) -> tuple[float, float]:
    """Return the mean over seeds and its standard error."""
    return float(np.mean(values)), float(np.std(values, ddof=1) / np.sqrt(len(values)))


def covered(shares: list[float]) -> tuple[float, float]:
    """Return the mean share of intervals that hold the truth, and its standard error over seeds."""
    value, error = mean(shares)
    return value, max(error, float(np.sqrt(0.05 * 0.95 / len(shares))))


def root_ratio(numerator: list[float], denominator: list[float] | float) -> tuple[float, float]:
    """Return sqrt(sum a / sum b) over seeds and its standard error by the jackknife."""
    a = np.array(numerator)
    b = np.broadcast_to(np.asarray(denominator, float), a.shape)
    left = np.sqrt((a.sum() - a) / (b.sum() - b))
    error = np.sqrt((len(a) - 1) / len(a) * ((left - left.mean()) ** 2).sum())
    return float(np.sqrt(a.sum() / b.sum())), float(error)
