"""The parts of a file that hold a trace, and a word for each part that does not."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Trace


def usable(
    file: str, kind: str, parts: Iterable[tuple[int, Trace | None, bool]], nothing: Callable[[], Problem]
) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of a file, and a problem for each part that has points and no usable position.

    Parameters
    ----------
    file : str
    kind : str
        What a part is called: ``track``, ``activity``, ``placemark``.
    parts : iterable of (number, trace, has_points)
        Numbers count from 1.
    nothing : callable
        Gives the problem of a file without any trace.

    Returns
    -------
    traces : list of Trace
    problems : list of Problem

    Raises
    ------
    UnreadableFile
        No part holds a trace.
    """
    traces, problems = [], []
    for number, trace, has_points in parts:
        if trace is not None:
            traces.append(trace)
        elif has_points:
            rule = f"the {kind} has no usable position"
            problems.append(Problem(file=file, place=f"{kind} {number}", rule=rule))
    if not traces:
        raise UnreadableFile(nothing())
    return traces, problems
