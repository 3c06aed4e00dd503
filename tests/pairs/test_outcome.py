"""The sentence about two receivers, word by word, and the rides that it asks for."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from trackspread.model import NOTHING, Estimate, Reason
from trackspread.options import Options
from trackspread.pairs.clock import CLOCKS_SET, Clock
from trackspread.pairs.outcome import outcome
from trackspread.pairs.own_errors import OwnErrors
from trackspread.results.words import reasons
from trackspread.statistics.power import held, power_together

NAMES = ("Alder", "Birch")


def own(
    a: float = 2.0, b: float = 3.0, *, apart: bool = False, common: float = math.nan, log_var: float = 0.222,
    ends: tuple[float, float] = (-1.52, 0.21), ratio: float | None = None,
) -> OwnErrors:  # fmt: skip
    return OwnErrors(
        sd_a=Estimate(value=a, low=a / 2, high=2 * a), sd_b=Estimate(value=b, low=b / 2, high=2 * b),
        common=Estimate(value=common), difference=Estimate(value=a - b, low=ends[0], high=ends[1]),
        told_apart=apart, ratio=a / b if ratio is None else ratio, log_var=log_var,
    )  # fmt: skip


def clock(offset_s: float = 0.0, reason: Reason = NOTHING) -> Clock:
    return Clock(pooled=Estimate(value=offset_s, reason=reason), by_ride_s=np.array([offset_s]))


def said(errors: OwnErrors | Reason, rides: int = 5, at: Clock | None = None, length_m: float = 50.0) -> str:
    return reasons.said(outcome(NAMES, errors, rides, at or clock(), Options(), length_m))


def test_told_apart() -> None:
    assert said(own(2.0, 3.0, apart=True, ends=(-1.52, -0.31))) == (
        "Over 5 shared rides Alder was more consistent than Birch "
        "(SD 1.0 m lower, 95 % interval 0.3 to 1.5 m)."
    )
    assert said(own(3.0, 2.0, apart=True, ends=(0.31, 1.52)), rides=1) == (
        "Over one shared ride Birch was more consistent than Alder "
        "(SD 1.0 m lower, 95 % interval 0.3 to 1.5 m)."
    )


def test_told_apart_without_a_figure() -> None:
    assert said(own(math.nan, 3.0, apart=True, ratio=0.1)) == (
        "Over 5 shared rides Alder was more consistent than Birch; "
        "its own standard deviation is too small beside the other's to be given."
    )


def test_nothing_to_say() -> None:
    assert said(Reason("never_meet")) == (
        "Nothing can be said about which of Alder and Birch is more consistent: "
        "the two never pass the same station on one ride."
    )


def test_as_good_as_equal_up_to_a_tenth() -> None:
    alike = "After 5 shared rides, no detectable difference between Alder and Birch."
    assert said(own(3.0, 3.2)) == said(own(3.2, 3.0)) == alike
    assert said(own(ratio=1.1)) != alike
    assert said(own(ratio=1.0 / 1.11)) != alike


def test_who_lies_to_the_right_is_said_where_it_is_more_than_chance() -> None:
    """The rule of an interval: 0 within it is chance. A bias of one ride may be that ride's own."""
    together = "After 5 shared rides, no detectable difference between Alder and Birch."

    def of(value: float, low: float, high: float, rides: int = 5) -> str:
        bias = Estimate(value=value, low=low, high=high)
        return reasons.said(outcome(NAMES, own(3.0, 3.2), rides, clock(), Options(), 50.0, bias))

    assert (
        of(-4.8, -6.4, -3.1)
        == f"{together} On average Birch plots 4.8 m (3.1 to 6.4 m) to the right of Alder."
    )
    assert (
        of(0.3, 0.04, 0.56)
        == f"{together} On average Alder plots 0.30 m (0.04 to 0.56 m) to the right of Birch."
    )
    assert of(4.8, -0.1, 9.7) == of(math.nan, math.nan, math.nan) == together
    assert "to the right" not in of(4.8, 3.1, 6.4, rides=1)
    assert of(4.8, 3.1, 6.4, rides=2).endswith(" Alder plots 4.8 m (3.1 to 6.4 m) to the right of Birch.")
    assert of(0.9, 0.4, 1.4).endswith(" Alder plots 0.9 m (0.4 to 1.4 m) to the right of Birch.")
    assert of(4.8, 0.0, 9.6) == together


def test_one_ride_asks_for_another() -> None:
    assert (
        said(own(), rides=1) == "After one shared ride, no detectable difference between Alder and Birch. "
        "Carry them together on another ride."
    )
    assert "would settle it" in said(own(), rides=2)


@pytest.mark.parametrize(
    ("length_m", "words"),
    [(99.0, ""), (math.nan, ""), (math.inf, ""),
     (100.0, " Errors are correlated over about 100 m, so 5 rides carry limited information."),
     (1490.0, " Errors are correlated over about 1,000 m, so 5 rides carry limited information.")],
)  # fmt: skip
def test_the_length_over_which_errors_stay_alike(length_m: float, words: str) -> None:
    assert said(own(3.0, 3.2), length_m=length_m) == (
        f"After 5 shared rides, no detectable difference between Alder and Birch.{words}"
    )


@pytest.mark.parametrize(
    ("errors", "rides", "common"),
    [(own(2.0, 3.0), 5, 0.0), (own(3.0, 2.0), 5, 0.0), (own(2.0, 3.0, common=4.0), 5, 2.0),
     (own(2.0, 2.5, log_var=0.935), 3, 0.0), (own(math.nan, 3.0, common=1.5, ratio=0.5), 4, 0.5)],
)  # fmt: skip
def test_the_rides_asked_for_are_the_fewest_that_reach_the_power_named(
    errors: OwnErrors, rides: int, common: float
) -> None:
    """Power of the test of logarithms, simulated against in test_power."""
    words = said(errors, rides)
    told = re.search(
        r"\(a ratio of (\d\.\d)\), about (\d+) more shared rides? would settle it \(in 80% of", words
    )
    assert told is not None
    ratio = max(errors.ratio, 1.0 / errors.ratio)
    assert float(told[1]) == pytest.approx(ratio, abs=0.051)
    need = rides + int(told[2])
    assert (
        power_together(round(ratio, 2), need, round(errors.log_var, 2), held(need, 2, 0.95, True), common)
        >= 0.8
    )
    assert (" shared rides would" in words) == (told[2] != "1")
    if int(told[2]) > 1:
        fewer = held(need - 1, 2, 0.95, True)
        assert power_together(round(ratio, 2), need - 1, round(errors.log_var, 2), fewer, common) < 0.8


def test_receivers_a_tenth_as_far_off_ask_for_as_many_rides() -> None:
    assert said(own(0.2, 0.3, common=0.4)) == said(own(2.0, 3.0, common=4.0)) != said(own(2.0, 3.0))


def test_at_least_one_more_ride_is_asked_for() -> None:
    """They look very different and yet were not told apart, by bad luck: one more, in the singular."""
    assert said(own(1.0, 9.0, log_var=0.105)).endswith(
        " If the difference is as large as it looks (a ratio of 9.0), "
        "about 1 more shared ride would settle it (in 80% of cases)."
    )
    assert "(a ratio of 1000.0)" in said(own(ratio=1000.0))


def test_too_many_rides_are_not_counted() -> None:
    far = (
        "After 5 shared rides, no detectable difference between Alder and Birch. "
        "More than 200 further shared rides would be needed to settle it."
    )
    assert said(own(3.0, 3.36, log_var=40.0)) == far
    assert said(own(3.0, 3.36, common=300.0, log_var=40.0)) == far


@pytest.mark.parametrize(
    ("at", "words"),
    [(clock(0.0), ""), (clock(899.0), ""), (clock(-899.0), ""),
     (clock(3600.0), " The clock of Alder is 1 h ahead of that of Birch; it was taken out."),
     (clock(-7205.0), " The clock of Birch is 2 h 5 s ahead of that of Alder; it was taken out."),
     (clock(900.0), " The clock of Alder is 900.0 s ahead of that of Birch; it was taken out."),
     (clock(math.nan, Reason("no_common_times")), ""),
     (clock(math.nan, Reason.of(CLOCKS_SET, low_s=0.0, high_s=3600.0)),
      " No common clock offset: the clocks were set between rides: Alder is ahead of Birch by 0.0 s to 1 h.")],
)  # fmt: skip
def test_the_clocks(at: Clock, words: str) -> None:
    told = said(Reason("few_stations"), at=at)
    start = "Nothing can be said about which of Alder and Birch is more consistent: too few stations."
    assert told == start + words
