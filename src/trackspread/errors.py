"""The words for what went wrong: every message is one line of file, place, value, rule, remedy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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


def and_more(count: int, most: int = MOST_NAMED, what: str = "") -> str:
    """Return how many are left where ``most`` of them are named, ``""`` where none is.

    Parameters
    ----------
    count : int
        How many there are.
    most : int
        How many of them are named.
    what : str
        Put behind, with a blank before it: what they are.

    Returns
    -------
    str

    Examples
    --------
    >>> and_more(5), and_more(3)
    ('and 2 more', '')
    """
    return f"and {count - most} more{what}" if count > most else ""


def first_few(texts: Sequence[str], what: str = "", by: str = ", ", last: str = " ") -> str:
    """Return the first three texts, and how many more there are.

    Parameters
    ----------
    texts : sequence of str
        All of them.
    what : str
        What is counted, with a blank before it.
    by : str
        Stands between two texts.
    last : str
        Stands before the count.

    Returns
    -------
    str

    Examples
    --------
    >>> first_few(["a", "b", "c", "d", "e"]), first_few(["a", "b"])
    ('a, b, c and 2 more', 'a, b')
    """
    more = and_more(len(texts), what=what)
    return by.join(texts[:MOST_NAMED]) + (last + more if more else "")


def printable(text: str, longest: int = 80) -> str:
    """Return ``text`` on one line without control or direction marks, cut to ``longest`` characters.

    Parameters
    ----------
    text : str
        Of a file or of the user: nothing is known of it.
    longest : int
        Characters that are left at most.

    Returns
    -------
    str

    Examples
    --------
    >>> printable("moss and sedge", 5)
    'moss…'
    """
    clean = text if text.isprintable() else "".join(c if c.isprintable() else "�" for c in text)
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


class TrackspreadError(Exception):
    """Base of all errors that the tool raises on purpose; its text is fit for the user."""

    @property
    def text(self) -> str:
        """What went wrong, in one line."""
        return str(self)


class UnreadableFile(TrackspreadError, ValueError):
    """One file could not be read; carries the `Problem`."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem)
        self.problem = problem


class NothingToAnalyse(TrackspreadError, ValueError):
    """No route with two traces was left; carries all problems, one line each."""

    def __init__(self, text: str, problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(text, problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join([self.text, *map(str, self.problems)])

    @property
    def text(self) -> str:
        """The first line, without the problems."""
        return str(self.args[0])


class BadOption(TrackspreadError, ValueError):
    """An option is outside its range; carries the parts of its line.

    Parameters
    ----------
    option : str
        The option that was refused.
    rule : str
        What is allowed; ``OTHER`` stands where the other option is named.
    found : str
        The value as it is shown, ``""`` where none needs to be.
    other : str
        The other option that the rule names, ``""`` without one.

    Examples
    --------
    >>> error = BadOption("torn_m", "at least OTHER, 5, is needed", "4", "steady_m")
    >>> str(error), error.text
    ('torn_m: at least steady_m, 5, is needed (found 4)', 'at least steady_m, 5, is needed (found 4)')
    """

    def __init__(self, option: str, rule: str, found: str = "", other: str = "") -> None:
        super().__init__(option, rule, found, other)
        self.option, self.other = option, other
        self._rule, self._found = rule, found

    def __str__(self) -> str:
        return f"{self.option}: {self.text}"

    @property
    def text(self) -> str:
        """The line without the option's name."""
        found = f" (found {self._found})" if self._found else ""
        return self._rule.replace("OTHER", self.other) + found

    def renamed(self, names: Mapping[str, str]) -> BadOption:
        """Return the error with the names that the user gave the options by."""
        option, other = (names.get(name, name) for name in (self.option, self.other))
        return BadOption(option, self._rule, self._found, other)


class FolderRefused(TrackspreadError):
    """The output folder may not be written to: it is not ours, or not writable."""


class Cancelled(TrackspreadError):
    """The work was stopped on request; nothing was written."""
