"""Processes beside this one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def helpers(count: int, scheduler: str | None = None) -> Iterator[Executor | None]:
    """Give ``count`` processes beside this one (None for none), or with a scheduler its cluster."""
    if scheduler is not None:
        from trackspread.system.cluster import cluster_executor

        with cluster_executor(scheduler) as executor:
            yield executor
        return
    if count < 1:
        yield None
        return
    from trackspread.system.workers import Workers

    with Workers(count) as executor:
        yield executor
