"""Why something is as it is: a code with its values. `trackspread.results.words` makes the sentence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

Value = Any
"""A number, a text, a truth, a reason, or a tuple of these."""


@dataclass(frozen=True, slots=True)
class Reason:
    """A code and its values by name, and further reasons beside it; false where there is nothing to say.

    Parameters
    ----------
    code : str
        Stable word; every code has its sentence in `trackspread.results.words`.
    values : tuple of (str, value)
        What the sentence tells, by name.
    also : tuple of Reason
        Reasons that hold beside it.

    Examples
    --------
    >>> reason = Reason.of("never_near", reach_m=45.0) + Reason("no_times")
    >>> reason.codes, dict(reason.values)
    (('never_near', 'no_times'), {'reach_m': 45.0})
    >>> print(reason)
    the trace never comes within 45 m of the line; the trace has no times
    >>> bool(Reason())
    False
    """

    code: str = ""
    values: tuple[tuple[str, Value], ...] = ()
    also: tuple[Reason, ...] = ()

    @classmethod
    def of(cls, code: str, **values: Value) -> Reason:
        """Return a reason with values, by name."""
        return cls(code, tuple(values.items()))

    def __str__(self) -> str:
        """Return the sentence."""
        from trackspread.results.words.reasons import said

        return said(self)

    def __bool__(self) -> bool:
        return bool(self.code)

    def __add__(self, other: Reason) -> Reason:
        if not (self and other):
            return self or other
        return replace(self, also=(*self.also, *other))

    def __iter__(self) -> Iterator[Reason]:
        """Yield every reason on its own."""
        if self:
            yield replace(self, also=()) if self.also else self
            yield from self.also

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes, in order."""
        return tuple(one.code for one in self)


NOTHING = Reason()
"""Nothing to say."""
