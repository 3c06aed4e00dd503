"""Results as a run leaves them on disk, of made analyses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from records import make_analysis
from trackspread.model import Analysis
from trackspread.results.arrays import write_arrays
from trackspread.results.document import result_document, result_text


def saved(folder: Path, analysis: Analysis, arrays: bool = True) -> Path:
    folder.mkdir()
    (folder / "result.json").write_text(result_text(result_document(analysis)), "utf-8")
    if arrays:
        write_arrays(analysis, folder / "arrays.npz")
    return folder


def two_weeks(folder: Path) -> list[Path]:
    """Save two analyses of one route; in the second, the first 1200 m are missing."""
    whole = make_analysis(seed=1, routes=1, traces=8)
    (route,) = whole.routes
    late = route.station_m >= 1200.0
    along = ("station_m", "lon_deg", "lat_deg", "station_spread_m", "station_low_m", "station_high_m")
    across = ("offset_m", "deviation_m", "crossing_s", "in_stretch")
    kept = {name: getattr(route, name)[..., late] for name in along + across}
    second = replace(whole, routes=(replace(route, **kept),))
    return [saved(folder / "week 1", whole), saved(folder / "week 2", second)]
