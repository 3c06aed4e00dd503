"""The two calls that do the whole job: `analyse_files` and `write_report`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from trackspread.model import Analysis
from trackspread.options import Options

Progress = Callable[[str, float], None]
"""Called with the name of the phase and the share done (0 to 1); may raise `errors.Cancelled` to stop."""


def analyse_files(
    paths: Sequence[Path | str],
    options: Options | None = None,
    *,
    rides: Path | None = None,
    reference: Path | None = None,
    progress: Progress | None = None,
) -> Analysis:
    """Read all traces below ``paths`` and analyse every route that at least two of them share."""
    raise NotImplementedError


def write_report(
    analysis: Analysis,
    folder: Path | str,
    *,
    basemap: str | None = None,
    progress: Progress | None = None,
) -> list[Path]:
    """Write report.html, map.html, result.json, tables/ and layers.gpkg into ``folder``."""
    raise NotImplementedError
