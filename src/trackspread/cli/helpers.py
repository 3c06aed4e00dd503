"""Processes beside this one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor


def cores() -> int:
    """Return how many cores this process may use: fewer than the machine has where it is held to some.

    Returns
    -------
    int
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def helpers(count: int, scheduler: str | None = None) -> Iterator[Executor | None]:
    """Give ``count`` processes beside this one (None for none), or with a scheduler its cluster.

    Parameters
    ----------
    count : int
        Processes; below 1 there is no executor.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://127.0.0.1:8786``.

    Yields
    ------
    Executor or None
        It has ended its processes when the block is left.

    Raises
    ------
    BadOption
        There is no such scheduler, or its library is not installed.
    """
    if scheduler is None and count < 1:
        yield None
        return
    with executor_of(count, scheduler) as executor:
        yield executor


def executor_of(count: int, scheduler: str | None = None) -> Executor:
    """Return processes of this machine or, with a scheduler, its cluster.

    Parameters
    ----------
    count : int
        Processes of this machine, 1 or more.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://127.0.0.1:8786``.

    Returns
    -------
    Executor

    Raises
    ------
    BadOption
        There is no such scheduler, or its library is not installed.
    """
    if scheduler is not None:
        from trackspread.system.cluster import cluster_executor

        return cluster_executor(scheduler)
    from trackspread.system.workers import Workers

    return Workers(count)
