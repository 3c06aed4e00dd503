"""One invented route with a gap and a stretch, judged once a module."""

from __future__ import annotations

import pytest

from judged_routes import judged
from trackspread.pipeline.route import Judged
from world import Fault, World, simulate

FAULTS = [
    Fault(kind="gap", ride=1, receiver="alder", from_m=600, to_m=800),
    Fault(kind="stretch", ride=2, receiver="alder", from_m=1100, to_m=1300, offset_m=25.0),
]


@pytest.fixture(scope="module")
def world() -> World:
    return simulate("straight", seed=21, rides=5, length_m=2030, faults=FAULTS, lights=0)


@pytest.fixture(scope="module")
def result(world: World) -> Judged:
    return judged(world)
