"""A route judged as the pipeline judges it: from witnesses, or from an invented world."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.model import Witness
from trackspread.options import Options
from trackspread.pipeline.route import Judged, first_centreline, judge
from trackspread.pipeline.tracks import on_grid
from world import World
from world.witnesses import as_witnesses


def judged(rides: World | Sequence[Witness], options: Options | None = None) -> Judged:
    options = options or Options()
    witnesses = as_witnesses(rides) if isinstance(rides, World) else rides
    tracks = on_grid(tuple(witnesses), options)
    return judge(tracks, *first_centreline(tracks, options), options)
