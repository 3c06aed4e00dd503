"""The folders of this machine in which things are kept (the only module that knows platformdirs)."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import platformdirs


def cache_folder() -> Path | None:
    """Return the folder of what can be made again; None where this user has no place for it.

    Returns
    -------
    Path or None
        What ``TRACKSPREAD_CACHE`` names, else that of the platform. It need not exist yet.
    """
    return _folder("TRACKSPREAD_CACHE", platformdirs.user_cache_dir)


def data_folder() -> Path | None:
    """Return the folder of what must be kept; None where this user has no place for it.

    Returns
    -------
    Path or None
        What ``TRACKSPREAD_DATA`` names, else that of the platform. It need not exist yet.
    """
    return _folder("TRACKSPREAD_DATA", platformdirs.user_data_dir)


def _folder(variable: str, platform: Callable[..., str]) -> Path | None:
    """Return the folder that a variable of the environment names, else the platform's.

    A user without a home has none: the platform's answer is then an error, or no absolute path.
    """
    given = os.environ.get(variable, "")
    try:
        found = Path(given or platform("trackspread", appauthor=False))
    except RuntimeError:
        return None
    return found if given or found.is_absolute() else None
