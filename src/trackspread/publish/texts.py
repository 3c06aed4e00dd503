"""Texts of a published analysis: no file names, no positions, and on request no dates."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from pathlib import PurePosixPath
from typing import Any, TypeVar

POSITION = re.compile(
    r"geo:[-+.\d,;=\w]+"
    r"|\d{1,3}\s*[°º˚]\s*\d{1,2}(?:[.,]\d+)?\s*(?:['′’]\s*(?:\d{1,2}(?:[.,]\d+)?\s*(?:[\"″”]|''))?)?\s*[NSEWO]?"
    r"|(?<![\w+])[23456789CFGHJMPQRVWX]{4,8}\+[23456789CFGHJMPQRVWX]{2,7}(?!\w)"
    r"|(?<![\d.,])[-+−]?\d{1,5}(?:\.\d{3,}|,\d{4,})(?!\d)",
    re.IGNORECASE,
)
"""In a free text a position: a geo URI (RFC 5870), degrees with minutes, a code of letters and digits with a
plus, or a number with three decimals or more (0.001 degrees are 100 m)."""
_MONTH = (
    r"(?:jan(?:uary|uar|vier)?|feb(?:ruary|ruar)?|f[ée]vrier|mar(?:ch|s)?|märz|apr(?:il)?|avril|may|mai|june?|juni|juin|"
    r"jul(?:y|i)?|juillet|aug(?:ust)?|ao[ûu]t|sept?(?:ember|embre)?|o[ck]t(?:ober|obre)?|nov(?:ember|embre)?|"
    r"de[cz](?:ember)?|d[ée]cembre)\.?"
)
MOMENT = re.compile(
    r"(?<!\d)(?:(?:19|20)\d{2}[-_./]?[01]\d[-_./]?[0-3]\d|[0-3]?\d[-_./][01]?\d[-_./](?:19|20)\d{2})"
    r"(?:[T _-]*[0-2]\d[-:_.h]?[0-5]\d(?:[-:_.m]?[0-5]\d)?(?:\.\d+)?s?(?:Z|[+-]\d{2}:?\d{2})?)?(?!\d)"
    r"|(?<!\d)[0-2]?\d:[0-5]\d(?::[0-5]\d)?(?!\d)"
    rf"|(?<!\w)[0-3]?\d(?:st|nd|rd|th|\.)?[ -]*(?:of )?(?:{_MONTH})(?:[ ,-]*(?:19|20)?\d{{2}})?(?!\w)"
    rf"|(?<!\w)(?:{_MONTH})[ -]*[0-3]?\d(?:st|nd|rd|th)?(?:[ ,-]+(?:19|20)\d{{2}})?(?!\w)"
    r"|(?<![\d/.-])\d{2}([/.-])[01]?\d\1\d{2}(?![\d/.-])"
    r"|(?<!\d)[0-2]?\d ?[hH][0-5]\d(?!\d)"
    r"|(?<!\d)1\d{9}(?:\d{3})?(?!\d)",
    re.IGNORECASE,
)
"""A date in digits or with the name of a month, a date with a time, a time of day, or seconds since 1970, as
file names and rides carry them."""

Record = TypeVar("Record")
Change = Callable[[str, str], str]
"""Takes the name of the field and its text, gives the text to show."""


@dataclass(kw_only=True)
class Wording:
    """Changes texts alike everywhere, so that the same file, day or ride keeps one name."""

    files: Sequence[str]
    keep_file_names: bool
    hide_dates: bool
    _names: dict[str, str] = field(default_factory=dict)
    _moments: dict[str, str] = field(default_factory=dict)
    _within: re.Pattern[str] | None = None

    def __post_init__(self) -> None:
        distinct = list(dict.fromkeys(self.files))
        if self.keep_file_names or not distinct:
            return
        wide = len(str(len(distinct)))
        for number, name in enumerate(distinct, 1):
            self._names.setdefault(PurePosixPath(name).name, f"trace {number:0{wide}d}")
        self._names |= {name: f"trace {number:0{wide}d}" for number, name in enumerate(distinct, 1)}
        dotted = [re.escape(name) for name in sorted(self._names, key=len, reverse=True) if "." in name]
        if dotted:
            self._within = re.compile(rf"(?<![\w/])(?:{'|'.join(dotted)})(?!\w)")

    def __call__(self, name: str, text: str) -> str:
        """Return the text of one field, fit to publish."""
        if name == "file" and text in self._names:
            return self._names[text]
        if self._within:
            text = self._within.sub(lambda found: self._names[found[0]], text)
        if self.hide_dates:
            text = MOMENT.sub(lambda found: self._moment(found[0]), text)
        return POSITION.sub("(number left out)", text)

    def _moment(self, found: str) -> str:
        return self._moments.setdefault(found, f"day {len(self._moments) + 1}")


def reworded(record: Record, change: Change, name: str = "") -> Record:
    """Return a record with every text in it changed, those of records and tuples within as well.

    Parameters
    ----------
    record : record, tuple or str
        Mappings and arrays in it stay as they are.
    change : callable
        Takes the name of the field and its text, returns the text to show.
    name : str
        Of the field that holds ``record``.

    Returns
    -------
    record, tuple or str
        As the one given.

    Examples
    --------
    >>> reworded(("day 12", "day 13"), lambda name, text: text.replace("day", "ride"))
    ('ride 12', 'ride 13')
    """
    if isinstance(record, str):
        return change(name, record)  # type: ignore[return-value]
    if isinstance(record, tuple):
        return tuple(reworded(item, change, name) for item in record)  # type: ignore[return-value]
    if is_dataclass(record) and not isinstance(record, type):
        found: dict[str, Any] = {f.name: getattr(record, f.name) for f in fields(record)}
        return replace(record, **{key: reworded(value, change, key) for key, value in found.items()})
    return record
