"""Events: a detour carried by three watches is told once."""

from __future__ import annotations

import pytest

from trackspread.model import Cause, Side, Stretch
from trackspread.statistics.astray.events import events_of, is_elsewhere


def stretch(
    receiver: str, ride: str, from_m: float, to_m: float, cause: Cause = "line", side: Side = "left",
    peak_m: float = 20.0,
) -> Stretch:  # fmt: skip
    return Stretch(
        number=0, file=f"{receiver}_{ride}.gpx", receiver=receiver, ride=ride, from_m=from_m, to_m=to_m,
        peak_m=peak_m, mean_m=peak_m / 2, side=side, seconds=30.0, start_time_s=0.0, cause=cause,
    )  # fmt: skip


def test_a_detour_carried_by_three_watches_is_one_event_with_three_names() -> None:
    found = events_of(
        [
            stretch("alder", "4", 500, 700, peak_m=31.0),
            stretch("birch", "4", 510, 690),
            stretch("cedar", "4", 495, 705),
        ]
    )
    (event,) = found
    assert event.receivers == ("alder", "birch", "cedar")
    assert event.rides == ("4",)
    assert (event.from_m, event.to_m, event.peak_m, event.cause) == (495, 705, 31.0, "line")


def test_a_watch_that_strays_at_one_place_on_several_rides_is_one_event() -> None:
    (event,) = events_of([stretch("alder", str(r), 500 + r, 640 + r, "receiver") for r in (1, 2, 3)])
    assert event.receivers == ("alder",)
    assert event.rides == ("1", "2", "3")


def test_other_places_sides_rides_and_watches_stay_apart() -> None:
    apart = [
        stretch("alder", "1", 100, 200),
        stretch("alder", "1", 190, 300),
        stretch("birch", "1", 100, 200, side="right"),
        stretch("cedar", "2", 100, 200),
    ]
    assert len(events_of(apart)) == 4


def test_settling_is_the_watch_s_own_and_joins_no_stray() -> None:
    both = [stretch("alder", "1", 0, 200, "settling"), stretch("alder", "2", 20, 180, "unknown")]
    assert [event.cause for event in events_of(both)] == ["settling", "unknown"]
    two = [stretch("alder", "1", 0, 200, "settling"), stretch("birch", "1", 0, 180, "settling")]
    assert [event.receivers for event in events_of(two)] == [("birch",), ("alder",)]


def test_causes_that_differ_are_unknown_and_the_order_given_does_not_count() -> None:
    mixed = [stretch("alder", "1", 100, 200, "unknown"), stretch("birch", "1", 110, 200, "line")]
    assert [event.cause for event in events_of(mixed)] == ["unknown"]
    assert events_of(mixed) == events_of(mixed[::-1])
    assert events_of([]) == ()


@pytest.mark.parametrize("cause", ["unknown", "after a gap"])
def test_who_is_farther_aside_than_receivers_err_was_elsewhere(cause: Cause) -> None:
    """Excursions of real receivers come to 110 m on an axis (static logs)."""
    assert is_elsewhere(cause, 200.0)
    assert not is_elsewhere(cause, 110.0)


def test_a_companion_says_whether_the_rider_was_elsewhere() -> None:
    assert is_elsewhere("line", 20.0)
    assert not is_elsewhere("receiver", 500.0)
    assert not is_elsewhere("settling", 500.0)
