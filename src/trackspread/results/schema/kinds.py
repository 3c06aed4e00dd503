"""Kinds of values in a result: how each is written, checked, described in JSON Schema, and read back."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar

import numpy as np

from trackspread.results.rounding import decimals, rounded, utc

Described = dict[str, Any]

LARGEST_NUMBER = 1e15
"""A number in a result stays below this; what is larger is no length, time or count of ours."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """How a value is held to its kind: ``refuse`` raises, given place, value and rule.

    ``full`` figures may be NaN or infinite, and their times are numbers.
    """

    refuse: Callable[[str, object, str], Exception]
    full: bool = False

    def is_number(self, value: object) -> bool:
        """Return whether a value is a number that a result may hold.

        Parameters
        ----------
        value : object

        Returns
        -------
        bool
        """
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        return abs(value) < LARGEST_NUMBER or (self.full and not math.isfinite(value))


class Kind:
    """What a value is. ``empty`` is what is read where an earlier edition wrote nothing.

    Its methods take ``value`` as a record has it (`written`) or as a document has it (all others); ``full``
    for figures as they are, not rounded; ``place``, such as ``routes[0].spread``; ``check``, which makes the
    error; and ``arrays``, what arrays.npz holds beside the value.
    """

    __slots__ = ()
    empty: ClassVar[Any] = None
    rule: ClassVar[str] = ""

    def written(self, value: Any, full: bool) -> Any:
        """Return a value as it stands in the document, rounded unless ``full``."""
        return value

    def fits(self, value: Any, check: Check) -> bool:
        """Return whether a value of a document is of this kind."""
        raise NotImplementedError

    def check(self, value: Any, place: str, check: Check) -> None:
        """Refuse a value that is not of this kind."""
        if not self.fits(value, check):
            raise check.refuse(place, value, f"{self.rule} is needed")

    def read(self, value: Any, arrays: Any = None) -> Any:
        """Return a value of a document as it stands in a record."""
        return value

    def described(self) -> Described:
        """Return the kind in JSON Schema."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Text(Kind):
    """A text; hostile where it comes from a file."""

    empty: ClassVar[Any] = ""
    rule: ClassVar[str] = "a text"

    def fits(self, value: Any, check: Check) -> bool:
        return isinstance(value, str)

    def described(self) -> Described:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class Word(Kind):
    """One of a few words."""

    words: tuple[str, ...]
    empty: ClassVar[Any] = "none"

    def check(self, value: Any, place: str, check: Check) -> None:
        if value not in self.words:
            words = ", ".join(map(repr, self.words))
            raise check.refuse(place, value, f"one of {words} is needed")

    def described(self) -> Described:
        return {"enum": list(self.words)} if len(self.words) > 1 else {"const": self.words[0]}


@dataclass(frozen=True, slots=True)
class Constant(Word):
    """A word that is the same in every result."""

    def written(self, value: Any, full: bool) -> Any:
        return self.words[0]


@dataclass(frozen=True, slots=True)
class Truth(Kind):
    """True or false."""

    empty: ClassVar[Any] = False
    rule: ClassVar[str] = "true or false"

    def fits(self, value: Any, check: Check) -> bool:
        return isinstance(value, bool)

    def described(self) -> Described:
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Count(Kind):
    """A whole number, 0 or more."""

    empty: ClassVar[Any] = 0
    rule: ClassVar[str] = "a whole number, 0 or more"

    def fits(self, value: Any, check: Check) -> bool:
        return type(value) is int and 0 <= value < LARGEST_NUMBER

    def described(self) -> Described:
        return {"type": "integer", "minimum": 0}


@dataclass(frozen=True, slots=True)
class Number(Kind):
    """A figure to ``places`` decimals; ``None`` of them: two significant digits, tenths at the finest.

    It is null where there is none, unless it is always ``known``. ``bounds`` are the least and the most it
    can be.
    """

    places: int | None = 1
    known: bool = field(default=False, kw_only=True)
    bounds: tuple[float | None, float | None] = field(default=(None, None), kw_only=True)
    empty: ClassVar[Any] = math.nan

    def written(self, value: Any, full: bool) -> Any:
        if full:
            return float(value)
        if self.places is not None:
            return rounded(value, self.places)
        coarse = decimals(0.0, 2 * abs(value)) if math.isfinite(value) else 1
        return rounded(value, max(0, min(1, coarse)))

    def check(self, value: Any, place: str, check: Check) -> None:
        if not (check.is_number(value) or (value is None and not self.known)):
            rule = "a finite number" + ("" if self.known else " or null")
            raise check.refuse(place, value, f"{rule} is needed")

    def read(self, value: Any, arrays: Any = None) -> Any:
        return math.nan if value is None else float(value)

    def described(self) -> Described:
        out: Described = {"type": "number" if self.known else ["number", "null"]}
        ends = zip(("minimum", "maximum"), self.bounds, strict=True)
        return out | {name: end for name, end in ends if end is not None}


def length(least: float | None = None) -> Number:
    """Return the kind of a length without an interval of its own, metres.

    Parameters
    ----------
    least : float, optional
        Lowest value that is allowed, metres.

    Returns
    -------
    Number
        Rounded to a decimetre, to a metre where it is large.
    """
    return Number(None, bounds=(least, None))


@dataclass(frozen=True, slots=True)
class Time(Kind):
    """A time, seconds since 1970 UTC in records, ISO 8601 to the second in documents."""

    empty: ClassVar[Any] = math.nan
    rule: ClassVar[str] = "a time such as 2026-01-31T12:00:00Z or null"

    def written(self, value: Any, full: bool) -> Any:
        return float(value) if full else utc(value)

    def fits(self, value: Any, check: Check) -> bool:
        if check.full:
            return check.is_number(value)
        try:
            return value is None or math.isfinite(datetime.fromisoformat(value).timestamp())
        except (TypeError, ValueError, OverflowError):
            return False

    def read(self, value: Any, arrays: Any = None) -> Any:
        if isinstance(value, str):
            return datetime.fromisoformat(value).timestamp()
        return math.nan if value is None else float(value)

    def described(self) -> Described:
        return {"$ref": "#/$defs/time"}


@dataclass(frozen=True, slots=True)
class Many(Kind):
    """A list of values of one kind."""

    kind: Kind
    size: int | None = None
    array: bool = False
    empty: ClassVar[Any] = ()

    def written(self, value: Any, full: bool) -> Any:
        return [self.kind.written(item, full) for item in value]

    def check(self, value: Any, place: str, check: Check) -> None:
        if not isinstance(value, list):
            raise check.refuse(place, value, "a list is needed")
        if self.size not in (None, len(value)):
            raise check.refuse(place, value, f"a list of {self.size} is needed")
        for i, item in enumerate(value):
            self.kind.check(item, f"{place}[{i}]", check)

    def read(self, value: Any, arrays: Any = None) -> Any:
        parts = [None] * len(value) if arrays is None else arrays
        items = [self.kind.read(item, part) for item, part in zip(value, parts, strict=True)]
        return np.array(items, dtype=float) if self.array else tuple(items)

    def described(self) -> Described:
        size = {} if self.size is None else {"minItems": self.size, "maxItems": self.size}
        return {"type": "array", "items": self.kind.described(), **size}


@dataclass(frozen=True, slots=True)
class Maybe(Kind):
    """A value, or null where there is none."""

    kind: Kind

    def written(self, value: Any, full: bool) -> Any:
        return None if value is None else self.kind.written(value, full)

    def check(self, value: Any, place: str, check: Check) -> None:
        if value is not None:
            self.kind.check(value, place, check)

    def read(self, value: Any, arrays: Any = None) -> Any:
        return None if value is None else self.kind.read(value, arrays)

    def described(self) -> Described:
        return {"anyOf": [self.kind.described(), {"type": "null"}]}


@dataclass(frozen=True, slots=True)
class Settings(Kind):
    """Every threshold by name."""

    empty: ClassVar[Any] = ()
    rule: ClassVar[str] = "an object of numbers, texts and truths, numbers where a threshold is one,"
    numbers: ClassVar[tuple[str, ...]] = (
        "confidence", "min_traces", "segment_m", "station_step_m", "steady_m", "torn_m",
    )  # fmt: skip

    def written(self, value: Any, full: bool) -> Any:
        return dict(value)

    def fits(self, value: Any, check: Check) -> bool:
        if not isinstance(value, dict):
            return False
        numbers = all(type(value[name]) in (int, float) for name in self.numbers if name in value)
        return numbers and all(isinstance(one, bool | int | float | str) for one in value.values())

    def described(self) -> Described:
        kinds = {"type": ["number", "string", "boolean"]}
        return {"type": "object", "required": list(self.numbers), "additionalProperties": kinds}


def check_object(
    value: Any, place: str, check: Check, needed: Mapping[str, Any], more: Mapping[str, Any]
) -> None:
    """Refuse what is not an object with all names that it needs.

    Parameters
    ----------
    value : Any
        What stands in the document.
    place : str
        Where, such as ``routes[0].spread``.
    check : Check
        Makes the error.
    needed : mapping
        Kinds by the names that must be there.
    more : mapping
        Kinds by the names that may be there; others are passed over.

    Raises
    ------
    Exception
        That of ``check``.
    """
    if not isinstance(value, dict):
        raise check.refuse(place, value, "an object is needed")
    for name, kind in {**needed, **more}.items():
        inside = f"{place}.{name}" if place else name
        if name in value:
            kind.check(value[name], inside, check)
        elif name in needed:
            raise check.refuse(inside, None, "this name is missing")
