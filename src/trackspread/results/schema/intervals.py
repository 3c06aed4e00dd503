"""Kinds of figures with their uncertainty: estimates and medians, each with the reason of a null."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, ClassVar

from trackspread import model as m
from trackspread.model import Reason
from trackspread.results.rounding import rounded_interval
from trackspread.results.schema.kinds import Check, Count, Described, Kind, Number, check_object
from trackspread.results.schema.reasons import CODE, Code, Why, with_reason

REASON = "reason"
WHY: Mapping[str, Kind] = MappingProxyType({REASON: Why(), REASON + CODE: Code()})
NO_FIGURE = Reason("no_figure")


@dataclass(frozen=True, slots=True)
class Interval(Kind):
    """An `Estimate` as ``value``, ``low``, ``high`` with a unit at the end, and a reason for each null."""

    unit: str = "_m"
    finest: int = 2
    empty: ClassVar[Any] = m.Estimate()

    def names(self) -> tuple[str, str, str]:
        """Return the names of value, low end and high end."""
        return (f"value{self.unit}", f"low{self.unit}", f"high{self.unit}")

    def written(self, value: Any, full: bool) -> Any:
        ends = (value.value, value.low, value.high)
        if full:
            return dict(zip(self.names(), map(float, ends), strict=True)) | with_reason(
                REASON, value.reason, full
            )
        shown = rounded_interval(*ends, finest=self.finest)
        out: dict[str, Any] = dict(zip(self.names(), shown, strict=True))
        return out | (with_reason(REASON, value.reason or NO_FIGURE, full) if None in shown else {})

    def check(self, value: Any, place: str, check: Check) -> None:
        check_object(value, place, check, dict.fromkeys(self.names(), Number()), WHY)

    def read(self, value: Any, arrays: Any = None) -> Any:
        number, low, high = (Number().read(value[name]) for name in self.names())
        return m.Estimate(value=number, low=low, high=high, reason=Why().read(value.get(REASON, "")))

    def described(self) -> Described:
        return {"$ref": f"#/$defs/estimate{self.unit or '_share'}"}


@dataclass(frozen=True, slots=True)
class Middle(Interval):
    """The value of an `Estimate` alone, rounded as its interval allows."""

    def written(self, value: Any, full: bool) -> Any:
        return Interval(self.unit, self.finest).written(value, full)[self.names()[0]]

    def check(self, value: Any, place: str, check: Check) -> None:
        Number().check(value, place, check)

    def described(self) -> Described:
        return Number().described()


@dataclass(frozen=True, slots=True)
class Median(Kind):
    """A `MedianEstimate`, seconds."""

    empty: ClassVar[Any] = m.MedianEstimate()
    names: ClassVar[tuple[str, str, str]] = ("median", "low", "high")
    too_few: ClassVar[Reason] = Reason("few_rides_for_interval")

    def written(self, value: Any, full: bool) -> Any:
        ends = (value.median, value.low, value.high)
        shown = tuple(map(float, ends)) if full else rounded_interval(*ends, finest=1)
        out: dict[str, Any] = dict(zip(self.names, shown, strict=True))
        out |= {"n": value.n, "censored": value.censored}
        out["confidence"] = Number(4).written(value.confidence, full)
        if full or None in shown:
            out |= with_reason(REASON, value.reason if full else value.reason or self.too_few, full)
        return out

    def check(self, value: Any, place: str, check: Check) -> None:
        needed = dict.fromkeys(self.names, Number()) | {"n": Count()}
        more = {"censored": Count(), "confidence": Number(), **WHY}
        check_object(value, place, check, needed, more)

    def read(self, value: Any, arrays: Any = None) -> Any:
        median, low, high = (Number().read(value[name]) for name in self.names)
        return m.MedianEstimate(
            median=median,
            low=low,
            high=high,
            n=value["n"],
            censored=value.get("censored", 0),
            confidence=Number().read(value.get("confidence")),
            reason=Why().read(value.get(REASON, "")),
        )

    def described(self) -> Described:
        return {"$ref": "#/$defs/median"}
