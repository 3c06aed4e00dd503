"""A Dask cluster as an executor (the only module that knows distributed, an optional extra)."""

from __future__ import annotations

import importlib
from concurrent.futures import Executor
from typing import Any

from trackspread.errors import BadOption, printable
from trackspread.system.extras import how_to_get


def cluster_executor(address: str) -> Executor:
    """Return the executor of a Dask cluster.

    Ports of a scheduler and its workers must never be open to others: whoever reaches them can run any
    code on those machines.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://host:8786``.

    Returns
    -------
    Executor
        Its futures are those of the cluster; a job that was lost with its worker is sent twice more.

    Raises
    ------
    BadOption
        The extra is not installed, or nobody answers at the address.
    """
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise BadOption("--scheduler", f"one more library is needed; {how_to_get('distributed')}") from None
    try:
        client = distributed.Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        where, why = printable(address), printable(str(error), 160)
        raise BadOption("--scheduler", f"nobody answers at {where}: {why}") from None
    executor: Executor = client.get_executor(pure=False, retries=2)
    return executor
