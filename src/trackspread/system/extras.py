"""Libraries that only one format or kind of picture needs, and how to get one into the copy that runs."""

from __future__ import annotations

import sys
from importlib.util import find_spec


def is_there(library: str) -> bool:
    """Return whether a library is installed, without loading it.

    Parameters
    ----------
    library : str
        Name that it is imported by.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_there("numpy"), is_there("no_such_library")
    (True, False)
    """
    return find_spec(library) is not None


def how_to_get(library: str) -> str:
    """Return the command that installs a library for this copy.

    Parameters
    ----------
    library : str
        Name that it is installed by.

    Returns
    -------
    str

    Examples
    --------
    >>> how_to_get("pyarrow").endswith(" -m pip install pyarrow")
    True
    """
    return f"run: {sys.executable or 'python'} -m pip install {library}"
