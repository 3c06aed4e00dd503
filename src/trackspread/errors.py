"""The words for what went wrong: every message is one line of file, place, value, rule, remedy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One thing that could not be used, told in one line.

    Parameters
    ----------
    file : str
        The file as the user named it (for a member of an archive: ``archive.zip/member.gpx``).
    place : str
        Where in the file: ``line 12``, ``track 1, segment 2, point 17``, or ``""`` for the whole file.
    value : str
        The offending value, shortened; ``""`` where there is none.
    rule : str
        What was expected.
    remedy : str
        What the user can do about it.
    """

    file: str
    place: str = ""
    value: str = ""
    rule: str
    remedy: str = ""

    def __str__(self) -> str:
        place = f", {self.place}" if self.place else ""
        value = f" (found {printable(self.value)!r})" if self.value else ""
        remedy = f"; {self.remedy}" if self.remedy else ""
        return printable(f"{self.file}{place}: {self.rule}{value}{remedy}", 600)


MOST_NAMED = 3
"""More names than these are counted."""


def first_few(texts: Sequence[str], what: str = "", by: str = ", ", last: str = " and ") -> str:
    """Return the first three texts, and how many more there are.

    Examples
    --------
    >>> first_few(["a", "b", "c", "d", "e"]), first_few(["a", "b"])
    ('a, b, c and 2 more', 'a, b')
    """
    more = len(texts) - MOST_NAMED
    tail = f"{last}{more} more{what}" if more > 0 else ""
    return by.join(texts[:MOST_NAMED]) + tail


def printable(text: str, longest: int = 80) -> str:
    """Return ``text`` on one line without control or direction marks, cut to ``longest`` characters."""
    clean = "".join(c if c.isprintable() else "�" for c in text)
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


class TrackspreadError(Exception):
    """Base of all errors that the tool raises on purpose; its text is fit for the user."""


class UnreadableFile(TrackspreadError, ValueError):
    """One file could not be read; carries the `Problem`."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


class NothingToAnalyse(TrackspreadError, ValueError):
    """No route with two traces was left; carries all problems, one line each."""

    def __init__(self, text: str, problems: tuple[Problem, ...] = ()) -> None:
        super().__init__("\n".join([text, *map(str, problems)]))
        self.problems = problems


class BadOption(TrackspreadError, ValueError):
    """An option is outside its range."""


class FolderRefused(TrackspreadError):
    """The output folder may not be written to: it is not ours, or not writable."""


class Cancelled(TrackspreadError):
    """The work was stopped on request; nothing was written."""
