"""Records as tables of pandas and layers of geopandas: plain columns, full figures, nothing rounded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from types import MappingProxyType
from typing import Any, Literal, get_args, get_origin, get_type_hints

import numpy as np
import pandas as pd

from trackspread import model as m
from trackspread.results.places import lines_of

PLAIN = ("ratio", "_share")
"""Ends of the names of estimates that have no unit; others are in seconds (``_s``) or metres."""

OF_ROUTES = MappingProxyType(
    {
        "traces": "traces",
        "segments": "segments",
        "stretches": "stretches",
        "events": "events",
        "variants": "variants",
        "receivers": "receivers",
        "pairs": "pairs",
        "film": "film",
        "references": "references",
    }
)
"""Kinds of records that every route holds, and the name of the field that holds them."""

OVER_ALL = MappingProxyType({"watches": "receivers", "differences": "differences", "by_ride": "by_ride"})
"""Kinds of records of the comparison over all routes, and the name of the field that holds them."""

LAYERS = ("centreline", "segments", "events", "variants", "stretches", "traces")
"""Kinds of records that have lines."""

STATIONS = ("station_m", "lon_deg", "lat_deg", "station_spread_m", "station_low_m", "station_high_m")


def frame(analysis: m.Analysis, kind: str) -> pd.DataFrame:
    """Return one kind of record as a table, a row a record.

    `Analysis.to_frame` gives it to notebooks.

    Parameters
    ----------
    analysis : Analysis
    kind : str
        ``inputs``, a key of `OF_ROUTES` or `OVER_ALL`, or ``stations``.

    Returns
    -------
    pandas.DataFrame
        Full figures, NaN where there is none; units end the names of columns.

    Raises
    ------
    ValueError
        There is no such kind.
    """
    if kind == "inputs":
        return _table([_columns(record) for record in analysis.inputs], m.Analysis, "inputs")
    if kind in OVER_ALL:
        found = getattr(analysis.comparison, OVER_ALL[kind], ())
        return _table([_columns(record) for record in found], m.Comparison, OVER_ALL[kind])
    if kind == "stations":
        return pd.concat([_stations(route) for route in analysis.routes], ignore_index=True)
    rows = [{"route": route.name} | _columns(record) for route, record in _of_routes(analysis, kind)]
    return _table(rows, m.RouteResult, OF_ROUTES[kind], route="")


def layer(analysis: m.Analysis, kind: str) -> Any:
    """Return one kind of record with its lines as a layer.

    `Analysis.to_geodataframe` gives it to notebooks.

    Parameters
    ----------
    analysis : Analysis
    kind : str
        One of `LAYERS`.

    Returns
    -------
    geopandas.GeoDataFrame
        In EPSG:4326; lines are cut at the antimeridian.

    Raises
    ------
    ValueError
        There is no such layer.
    """
    from trackspread.results.layers import lines_layer

    if kind not in LAYERS:
        raise ValueError(f"{kind!r}: the layers are {', '.join(LAYERS)}")
    table = _centreline_frame(analysis) if kind == "centreline" else frame(analysis, kind)
    return lines_layer(table, [part for route in analysis.routes for part in lines_of(route, kind)])


def _table(rows: list[dict[str, Any]], holder: type, name: str, **first: Any) -> pd.DataFrame:
    """Return rows as a table; without any it has the columns of the records that field ``name`` holds."""
    record = get_args(get_type_hints(holder)[name])[0]
    blank = first | _columns(_blank(record))
    return pd.DataFrame([blank, *rows]).iloc[1:].reset_index(drop=True)


def _blank(kind: type) -> Any:
    """Return a record of no content, for the names and types of its columns.

    Examples
    --------
    >>> _blank(m.Variant).files
    ('',)
    """
    return kind(**{name: _blank_value(hint) for name, hint in get_type_hints(kind).items()})


def _blank_value(hint: Any) -> Any:
    if hint == tuple[str, ...]:
        return ("",)
    if get_origin(hint) is tuple:
        return ()
    if isinstance(hint, type) and is_dataclass(hint):
        return _blank(hint)
    if get_origin(hint) is Literal:
        return ""
    blanks = {str: "", int: 0, float: np.nan, bool: False}
    return blanks.get(hint, np.empty(0))


def _columns(record: Any) -> dict[str, Any]:
    """Return a record as plain columns: estimates with their interval, other records by their fields.

    Arrays and lists of records are left out; lists of texts are joined by ``"; "``.

    Examples
    --------
    >>> _columns(m.ReceiverSummary(
    ...     receiver="sedge", rides=4, routes=("Route A",), spread=m.Estimate(value=2.0, low=1.5, high=3.0),
    ...     first_fix_s=m.MedianEstimate(median=4.0), settled_fix_s=m.MedianEstimate(),
    ...     stray_share=m.Estimate(value=0.1),
    ... ))["spread_high_m"]
    3.0
    """
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    estimates = [name for name, value in values.items() if isinstance(value, m.Estimate)]
    out: dict[str, Any] = {}
    for name, value in values.items():
        out |= _column(name, value, alone=estimates == [name])
    return out


def _column(name: str, value: Any, *, alone: bool) -> dict[str, Any]:
    if isinstance(value, m.Estimate | m.MedianEstimate):
        return _estimate(name, value, alone and isinstance(value, m.Estimate))
    if is_dataclass(value):
        return {
            _inner(name, inner.name): getattr(value, inner.name)
            for inner in fields(value)
            if not isinstance(getattr(value, inner.name), tuple)
        }
    if isinstance(value, tuple):
        texts = all(isinstance(item, str) for item in value)
        return {name: "; ".join(value)} if texts and value else {}
    return {} if isinstance(value, np.ndarray | Mapping) else {name: value}


def _estimate(name: str, value: m.Estimate | m.MedianEstimate, alone: bool) -> dict[str, Any]:
    unit = next((end for end in ("_m", "_s") if name.endswith(end)), "" if name.endswith(PLAIN) else "_m")
    stem = name.removesuffix(unit) if unit else name
    figure = value.value if isinstance(value, m.Estimate) else value.median
    ends = "" if alone else f"{stem}_"
    return {f"{stem}{unit}": figure, f"{ends}low{unit}": value.low, f"{ends}high{unit}": value.high}


def _inner(outer: str, inner: str) -> str:
    """Return the name of a field in a field: ``first_fix`` and ``value_s`` make ``first_fix_s``."""
    unit = "_m" if outer.endswith("_m") else ""
    return f"{outer.removesuffix(unit)}_{inner.removeprefix('value_')}{unit}"


def _of_routes(analysis: m.Analysis, kind: str) -> Iterator[tuple[m.RouteResult, Any]]:
    if kind not in OF_ROUTES:
        kinds = ", ".join(["inputs", *OF_ROUTES, "stations", *OVER_ALL])
        raise ValueError(f"{kind!r}: the kinds are {kinds}")
    return ((route, record) for route in analysis.routes for record in getattr(route, OF_ROUTES[kind]))


def _stations(route: m.RouteResult) -> pd.DataFrame:
    names = {name: name.removeprefix("station_") for name in STATIONS[3:]}
    table = pd.DataFrame({names.get(name, name): getattr(route, name) for name in STATIONS})
    table.insert(0, "route", route.name)
    table.insert(4, "traces", np.isfinite(route.offset_m).sum(axis=0))
    return table


def _centreline_frame(analysis: m.Analysis) -> pd.DataFrame:
    rows = []
    for route in analysis.routes:
        row: dict[str, Any] = {"route": route.name}
        for name in ("length_m", "spread", "p95_m", "proj4"):
            row |= _column(name, getattr(route, name), alone=True)
        rows.append(row)
    return pd.DataFrame(rows)
