"""How closely repeated GNSS traces of one route agree, and how certain that is.

>>> import trackspread as ts
>>> analysis = ts.analyse("demo_routes")
>>> sorted(route.name for route in analysis.routes)
['Route A', 'Route B']

A bare import loads nothing else; each name loads what it needs when it is first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from trackspread.api import analyse, load, read, write_report
    from trackspread.errors import (
        BadOption,
        Cancelled,
        FolderRefused,
        NothingToAnalyse,
        TrackspreadError,
        UnreadableFile,
    )
    from trackspread.options import Options

__all__ = [
    "BadOption",
    "Cancelled",
    "FolderRefused",
    "NothingToAnalyse",
    "Options",
    "TrackspreadError",
    "UnreadableFile",
    "analyse",
    "load",
    "read",
    "write_report",
]

_HOME = {"Options": "options"} | dict.fromkeys(("analyse", "load", "read", "write_report"), "api")


def __getattr__(name: str) -> Any:
    """Load a name of the face from the module where it lives."""
    if name not in __all__:
        raise AttributeError(f"module 'trackspread' has no attribute {name!r}")
    return getattr(importlib.import_module(f"trackspread.{_HOME.get(name, 'errors')}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
