"""What records do in a notebook: short representations, tables, layers, a picture.

Tables and pictures are made further up; the two methods that need them import them when they are called.
"""

from __future__ import annotations

from dataclasses import fields
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from trackspread.errors import and_more

if TYPE_CHECKING:
    from trackspread.model.results import Analysis, RouteResult

LONGEST_TEXT = 40
"""Characters of a text that a representation shows."""


def shown(value: object) -> str:
    """Return a value as a representation shows it: arrays and tuples of records by their size.

    Parameters
    ----------
    value : object
        Of a field of a record.

    Returns
    -------
    str

    Examples
    --------
    >>> shown(np.zeros((2, 878)))
    'float64 (2, 878)'
    >>> shown("x" * 50)
    "'xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…'"
    """
    if isinstance(value, np.ndarray):
        return f"{value.dtype} {value.shape}"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, str):
        return repr(value if len(value) <= LONGEST_TEXT else value[: LONGEST_TEXT - 1] + "…")
    if isinstance(value, tuple | dict) and len(value) > 3:
        kinds = {type(item).__name__ for item in value}
        return f"{len(value)} × {kinds.pop() if len(kinds) == 1 else 'item'}"
    return repr(value)


class ShortRepr:
    """A record whose representation fits a line or two."""

    __slots__ = ()

    def __repr__(self) -> str:
        told = ", ".join(f"{f.name}={shown(getattr(self, f.name))}" for f in fields(self))  # type: ignore[arg-type]
        return f"{type(self).__name__}({told})"


class RouteMethods:
    """What a notebook asks of one route."""

    __slots__ = ()

    def __repr__(self) -> str:
        return f"<{_route_line(self)}>"  # type: ignore[arg-type]

    def plot(self, kind: str = "spread", axes: Any = None) -> Any:
        """Draw the route's spread, or the offset of every trace, along its stations.

        Parameters
        ----------
        kind : {"spread", "offsets"}
            Spread with its interval in metres, or one line a trace, metres right of the centreline.
        axes : matplotlib.axes.Axes, optional
            Where to draw; a new figure by default.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            There is no such picture.

        Examples
        --------
        >>> import trackspread as ts
        >>> ts.analyse("demo_routes")["Route A"].plot().get_xlabel()
        'station (m)'
        """
        from trackspread.report.plot import plot_route

        return plot_route(self, kind, axes)  # type: ignore[arg-type]


class AnalysisMethods:
    """What a notebook asks of an analysis."""

    __slots__ = ()
    if TYPE_CHECKING:
        routes: tuple[RouteResult, ...]

    def __getitem__(self, route: str) -> RouteResult:
        """Return a route by its name or title.

        Raises
        ------
        KeyError
            No route has that name; the error lists those that there are.
        """
        for found in self.routes:
            if route in (found.name, found.title):
                return found
        names = ", ".join(found.name for found in self.routes)
        raise KeyError(f"{route!r}: the routes are {names or 'none'}")

    def __repr__(self) -> str:
        return "\n".join(_lines(self))  # type: ignore[arg-type]

    def _repr_html_(self) -> str:
        head, *routes = _lines(self)  # type: ignore[arg-type]
        items = "".join(f"<li>{escape(line.strip())}</li>" for line in routes)
        return f"<p>{escape(head)}</p><ul>{items}</ul>"

    def to_frame(self, kind: str = "segments") -> Any:
        """Return one kind of record as a table, a row a record, in full figures.

        Parameters
        ----------
        kind : str
            ``"inputs"``, ``"traces"``, ``"segments"``, ``"stretches"``, ``"events"``, ``"variants"``,
            ``"receivers"``, ``"pairs"``, ``"film"``, ``"references"``, ``"stations"``, ``"watches"`` or
            ``"differences"``.

        Returns
        -------
        pandas.DataFrame
            Plain columns with units in their names; the interval of a record's only estimate stands in
            ``low_m`` and ``high_m``. NaN = no figure.

        Raises
        ------
        ValueError
            There is no such kind.

        Examples
        --------
        >>> import trackspread as ts
        >>> frame = ts.analyse("demo_routes").to_frame("segments")
        >>> list(frame.columns[:7])
        ['route', 'from_m', 'to_m', 'traces', 'spread_m', 'low_m', 'high_m']
        """
        from trackspread.results.frames import frame

        return frame(self, kind)  # type: ignore[arg-type]

    def to_geodataframe(self, kind: str = "centreline") -> Any:
        """Return one kind of record with its lines, longitude and latitude in full precision (EPSG:4326).

        Parameters
        ----------
        kind : {"centreline", "segments", "events", "variants", "stretches", "traces"}
            What to return, a row a record.

        Returns
        -------
        geopandas.GeoDataFrame
            Columns as in `to_frame`, and lines cut at the antimeridian (RFC 7946, section 3.1.9).

        Raises
        ------
        ValueError
            There is no such kind.

        Examples
        --------
        >>> import trackspread as ts
        >>> layer = ts.analyse("demo_routes").to_geodataframe("centreline")
        >>> layer.crs.to_epsg(), layer.geom_type.unique().tolist()
        (4326, ['MultiLineString'])
        """
        from trackspread.results.frames import layer

        return layer(self, kind)  # type: ignore[arg-type]


def _route_line(route: RouteResult) -> str:
    """Return a route in one line: name, length, traces, watches, spread."""
    watches = len(route.receivers)
    spread = route.told_spread
    name = f"{route.name} ({route.title})" if route.title else route.name
    return (
        f"{shown(name)[1:-1]}: {route.length_m / 1000:.2f} km, {len(route.traces)} traces, "
        f"{watches} {'watch' if watches == 1 else 'watches'}, agree to {spread:.1f} m (1 SD)"
    )


MOST_ROUTES = 20
"""More routes than these are counted: a repr fits a screen."""


def _lines(analysis: Analysis) -> list[str]:
    used = sum(record.status == "used" for record in analysis.inputs)
    plural = "route" if len(analysis.routes) == 1 else "routes"
    head = f"Analysis: {used} of {len(analysis.inputs)} traces used, {len(analysis.routes)} {plural}"
    if analysis.problems:
        head += f", {len(analysis.problems)} problems"
    more = and_more(len(analysis.routes), MOST_ROUTES)
    lines = [*map(_route_line, analysis.routes[:MOST_ROUTES]), *([f"… {more}"] if more else [])]
    return [head, *(f"  {line}" for line in lines)]
