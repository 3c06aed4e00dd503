"""How much one file may hold: nobody rides for eleven days, and a small file must not fill the memory."""

from __future__ import annotations

from trackspread.errors import Problem, UnreadableFile

MOST_POINTS = 1_000_000
"""Points of one file: eleven days at one a second, some 30 s and 500 MB of reading."""


def check_points(file: str, count: int) -> None:
    """Refuse a file with more points than may be read.

    Parameters
    ----------
    file : str
        The file as the user named it.
    count : int
        Points so far.

    Raises
    ------
    UnreadableFile
        ``count`` is above `MOST_POINTS`.
    """
    if count > MOST_POINTS:
        rule, remedy = f"a file may hold at most {MOST_POINTS} points", "split the recording by rides"
        raise UnreadableFile(Problem(file=file, value=f"more than {MOST_POINTS}", rule=rule, remedy=remedy))
