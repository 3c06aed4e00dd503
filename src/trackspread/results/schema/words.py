"""Words that a result may hold, and fields that several records share."""

from __future__ import annotations

from typing import get_args

from trackspread import model as m
from trackspread.results.schema.fields import Column, Field, Subject, figure, text
from trackspread.results.schema.kinds import Number, Text, Word

VERDICTS = Word(get_args(m.Verdict))
CAUSES = Word(get_args(m.Cause))
SIDES = Word(get_args(m.Side))
SOURCES = Word(get_args(m.FixSource))
BASES = Word(get_args(m.Basis))
CLAIMS = Word(get_args(m.ClaimCode))
FIGURES = Word(get_args(m.RideFigure))
ORIGINS = Word(("sheet", "folder", "file", "pattern", "overlap", "none"))

NO_TIMES = "no_times"
SHARE = (0, 1)  # lowest and highest share
LENGTH = (0, None)  # lowest and highest length or time


def who(rank: int = 9) -> tuple[Field, Field, Field]:
    """Return the fields that say which trace is meant.

    Parameters
    ----------
    rank : int
        Of their columns, as in `Column`.

    Returns
    -------
    tuple of Field
        ``file``, ``receiver``, ``ride``.
    """
    names = ("file", "receiver", "ride")
    return tuple(Field(name, Text(), show=text(name, name, rank=rank)) for name in names)  # type: ignore[return-value]


def span(places: int, rank: int = 0) -> tuple[Field, Field]:
    """Return the fields that say which piece of the centreline is meant.

    Parameters
    ----------
    places : int
        Decimals of a metre in the document.
    rank : int
        Of their columns, as in `Column`.

    Returns
    -------
    tuple of Field
        ``from_m`` and ``to_m``.
    """
    ends = (("from_m", "from"), ("to_m", "to"))
    kind = Number(places, known=True)
    return tuple(Field(name, kind, show=Column(head, head, "m", rank=rank)) for name, head in ends)  # type: ignore[return-value]


CLAIM = Subject(
    name="claim",
    about="what a watch says of its own accuracy, metres",
    record=m.Claim,
    fields=(
        Field("median", Number(1), why="no_claim"),
        Field("p95", Number(1), why="no_claim"),
    ),
)
CLAIMED = (
    figure("claimed", "claimed, median", "m", part="median"),
    figure("claimed_95", "claimed, 95 %", "m", part="p95"),
)
