"""Reasons in a document: text and codes for people and programs, codes with their values in full figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar

from trackspread.model import NOTHING, Reason
from trackspread.results.schema.kinds import Check, Described, Kind
from trackspread.results.words.reasons import SENTENCES, said, told_codes

BECAUSE = "because"
"""Name of a reason within a reason, in full figures."""
CODE = "_code"
"""Behind the name of a reason: its codes, parted by spaces."""


@dataclass(frozen=True, slots=True)
class Why(Kind):
    """A `Reason`: its sentence, or in full figures its codes with their values."""

    empty: ClassVar[Any] = NOTHING
    rule: ClassVar[str] = "a text"

    def written(self, value: Any, full: bool) -> Any:
        return [_plain(one) for one in value] if full else said(value)

    def fits(self, value: Any, check: Check) -> bool:
        return isinstance(value, str) or (check.full and isinstance(value, list) and all(map(_is_one, value)))

    def read(self, value: Any, arrays: Any = None) -> Any:
        if isinstance(value, str):
            return Reason.of("told", text=value) if value else NOTHING
        reason = _reason(value)
        said(reason)
        return reason

    def described(self) -> Described:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class Code(Why):
    """The codes of a `Reason`, parted by spaces."""

    def written(self, value: Any, full: bool) -> Any:
        return told_codes(value)


@dataclass(frozen=True, slots=True)
class Sentence(Kind):
    """A sentence made of a record."""

    make: Callable[[Any], str]
    empty: ClassVar[Any] = ""
    rule: ClassVar[str] = "a text"

    def written(self, value: Any, full: bool) -> Any:
        return "" if full else self.make(value)

    def fits(self, value: Any, check: Check) -> bool:
        return isinstance(value, str)

    def described(self) -> Described:
        return {"type": "string"}


def with_reason(name: str, reason: Reason, full: bool) -> dict[str, Any]:
    """Return what stands beside a figure: its reason, and the code of it.

    Parameters
    ----------
    name : str
        Of the text beside the figure.
    reason : Reason
    full : bool
        Codes with their values instead of words.

    Returns
    -------
    dict
        One name, or two: the text and the codes.
    """
    out = {name: Why().written(reason, full)}
    return out if full else out | {name + CODE: told_codes(reason)}


def _plain(reason: Reason) -> list[Any]:
    return [reason.code, {name: _listed(value) for name, value in reason.values}]


def _listed(value: Any) -> Any:
    if isinstance(value, Reason):
        return {BECAUSE: [_plain(one) for one in value]}
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


def _reason(items: list[Any]) -> Reason:
    first, *others = [Reason.of(code, **_frozen_all(values)) for code, values in items] or [NOTHING]
    return Reason(first.code, first.values, tuple(others))


def _frozen_all(values: dict[str, Any]) -> dict[str, Any]:
    return {name: _frozen(value) for name, value in values.items()}


def _frozen(value: Any) -> Any:
    if isinstance(value, dict):
        return _reason(value[BECAUSE])
    return tuple(map(_frozen, value)) if isinstance(value, list) else value


def _is_one(item: Any) -> bool:
    if not (isinstance(item, list) and len(item) == 2 and isinstance(item[1], dict)):
        return False
    return isinstance(item[0], str) and item[0] in SENTENCES
