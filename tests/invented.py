"""Analyses that no pipeline would make, drawn field by field from the types of the records."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from typing import Any, Literal

import numpy as np
from hypothesis import strategies as st

from reasons import EXAMPLES
from trackspread import model as m
from trackspread.results.arrays import ACROSS, ALONG, BETWEEN, CLAIMED, POINTS, TAKEN

KNOWN = ("from_m", "to_m", "length_m", "station_step_m")
ORIGIN = st.sampled_from(["sheet", "folder", "file", "overlap", "none"])
TIMES = st.integers(0, 4_000_000_000).map(float) | st.just(float("nan"))
LARGE = 9e14

FIGURES = st.floats(-LARGE, LARGE) | st.sampled_from([float("nan"), float("inf"), -float("inf")])
REASONS = st.lists(st.sampled_from((m.NOTHING, *EXAMPLES)), max_size=2).map(
    lambda reasons: sum(reasons, start=m.NOTHING)
)
SETTINGS = st.dictionaries(
    st.text(), st.booleans() | st.integers(-9, 9) | st.floats(-9, 9) | st.text(), max_size=3
)


def _floats(*shape: int, low: float = -1e6, high: float = 1e6) -> st.SearchStrategy[m.Floats]:
    size = int(np.prod(shape))
    values = st.lists(st.floats(low, high) | st.just(float("nan")), min_size=size, max_size=size)
    return values.map(lambda drawn: np.array(drawn, dtype=float).reshape(shape))


def _flags(*shape: int) -> st.SearchStrategy[m.Bools]:
    size = int(np.prod(shape))
    drawn = st.lists(st.booleans(), min_size=size, max_size=size)
    return drawn.map(lambda values: np.array(values, dtype=bool).reshape(shape))


def _numbers(*shape: int, most: int) -> st.SearchStrategy[m.Ints]:
    size = int(np.prod(shape))
    drawn = st.lists(st.integers(0, most), min_size=size, max_size=size)
    return drawn.map(lambda values: np.array(values, dtype=np.int64).reshape(shape))


def _by_name(name: str) -> st.SearchStrategy[Any] | None:
    if name in KNOWN:
        return st.floats(-1e6, 1e6)
    if name in ("receiver_from", "ride_from"):
        return ORIGIN
    if name in ("created_s", "start_time_s"):
        return TIMES
    if name == "settings":
        return SETTINGS
    if name == "bounds":
        lon, lat = st.floats(-180, 179), st.floats(-90, 90)
        return st.tuples(lon, lat, lon, lat)
    return _floats(3) if name in ("segment_bias_m", "segment_rmse_m") else None


def _by_type(kind: Any) -> st.SearchStrategy[Any]:
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin is Literal:
        return st.sampled_from(inner)
    if origin is tuple and inner[-1] is Ellipsis:
        return st.lists(_by_type(inner[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*map(_by_type, inner))
    if origin in (typing.Union, types.UnionType):
        return st.one_of(*map(_by_type, inner))
    if dataclasses.is_dataclass(kind):
        return REASONS if kind is m.Reason else records(kind)
    plain = {float: FIGURES, int: st.integers(0, 10**6), str: st.text(max_size=9), bool: st.booleans()}
    return st.none() if kind is type(None) else plain[kind]


def records(kind: Any, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return a strategy for a record, every field drawn by its type unless ``given``."""
    hints = typing.get_type_hints(kind)
    drawn = {}
    for name in (name for name in hints if name not in given):
        special = _by_name(name)
        drawn[name] = _by_type(hints[name]) if special is None else special
    return st.builds(kind, **drawn, **given)


@st.composite
def routes(draw: st.DrawFn) -> m.RouteResult:
    """Return a route whose arrays have shapes that belong together."""
    traces, stations, rides = draw(st.integers(0, 3)), draw(st.integers(2, 4)), draw(st.integers(0, 2))
    arrays: dict[str, Any] = {name: _floats(stations) for name in ALONG}
    arrays |= {"lon_deg": _exact(stations, 180), "lat_deg": _exact(stations, 90)}
    arrays |= {"station_m": _exact(stations, 1e6).map(lambda values: np.arange(stations) + values.max())}
    arrays |= {name: _floats(traces, stations) for name in ACROSS} | {"in_stretch": _flags(traces, stations)}
    variants = draw(st.lists(records(m.Variant), max_size=2).map(tuple))
    arrays |= {TAKEN: _numbers(traces, stations, most=len(variants)), CLAIMED: _floats(traces, stations)}
    between = {name: _floats(rides, stations) for name in BETWEEN}
    made = []
    for number in range(traces):
        points = draw(st.integers(0, 3))
        own: dict[str, Any] = {name: _floats(points) for name in POINTS} | {"break_before": _flags(points)}
        own |= {"lon_deg": _exact(points, 180), "lat_deg": _exact(points, 90)}
        made.append(draw(records(m.TraceResult, number=st.just(number), **own)))
    pairs = st.lists(records(m.PairResult, **between), max_size=2).map(tuple)
    known = {"traces": st.just(tuple(made)), "pairs": pairs, "variants": st.just(variants)}
    return draw(records(m.RouteResult, **known, **arrays))


def _exact(count: int, most: float) -> st.SearchStrategy[m.Floats]:
    drawn = st.lists(st.floats(-most, most), min_size=count, max_size=count)
    return drawn.map(lambda values: np.array(values, dtype=float))


def analyses() -> st.SearchStrategy[m.Analysis]:
    """Return a strategy for whole analyses."""
    return records(m.Analysis, routes=st.lists(routes(), max_size=2).map(tuple))


def differences(a: Any, b: Any, place: str = "") -> list[str]:
    """Return the places at which two values differ; NaN is the same as NaN."""
    if type(a) is not type(b) and not (isinstance(a, float) and isinstance(b, float)):
        return [f"{place}: {a!r} and {b!r}"]
    if isinstance(a, np.ndarray):
        same = a.dtype == b.dtype and np.array_equal(a, b, equal_nan=a.dtype.kind == "f")
        return [] if same else [f"{place}: {a!r} and {b!r}"]
    if dataclasses.is_dataclass(a):
        names = [field.name for field in dataclasses.fields(a)]
        parts = [(getattr(a, name), getattr(b, name), f"{place}.{name}") for name in names]
        return [found for x, y, where in parts for found in differences(x, y, where)]
    if isinstance(a, tuple):
        if len(a) != len(b):
            return [f"{place}: {len(a)} and {len(b)} items"]
        return [found for i in range(len(a)) for found in differences(a[i], b[i], f"{place}[{i}]")]
    nothing = isinstance(a, float) and math.isnan(a) and math.isnan(b)
    return [] if nothing or a == b else [f"{place}: {a!r} and {b!r}"]
