"""One reason for every code, with values as the analysis gives them."""

from __future__ import annotations

from trackspread.model import Reason
from trackspread.results.words.reasons import SENTENCES

MEET = Reason("never_meet")
VALUES: dict[str, dict[str, object]] = {
    "told": {"text": "as an earlier edition told it"},
    "never_near": {"reach_m": 45.0},
    "too_short_to_settle": {"seconds": 12.0, "hold_s": 30.0},
    "never_settled": {"band_m": 6.0, "hold_s": 30.0},
    "came_another_way": {"met_m": 620.4},
    "met_the_others": {"met_m": 620.4},
    "clocks_set": {"low_s": -3600.0, "high_s": 0.1, "a": "Alder", "b": "Birch"},
    "little_in_common": {"least": 20},
    "common_not_seen": {"most_m": 1.04, "confidence": 0.95},
    "reference_too_long": {"near_m": 4e8, "route_m": 1000.0},
    "nssda_one_axis": {"across_m": 3.92, "worth": 40.4},
    "nssda_few_points": {"least": 20, "worth": 12.0},
    "nssda_unlike_axes": {"ratio": 0.41},
    "dissolved": {"because": Reason.of("too_short", length_m=80.0, least_m=100.0)},
    "shares_too_little": {"inside": 0.519, "held": 0.3, "needed": 0.7},
    "too_few_points": {"least": 5, "usable": 3, "read": 9, "fell": ((4, "bad position"), (2, "no fix"))},
    "too_small": {"extent_m": 42.0, "least_m": 100.0},
    "too_short": {"length_m": 80.0, "least_m": 100.0},
    "same_recording": {"of": "a.gpx"},
    "too_many_stations": {"most": 100_000, "step_m": 5.0},
    "few_traces": {"traces": 2, "needed": 3},
    "share_astray": {
        "share": 0.25, "beyond_m": 3.0, "names": ("a", "b", "c", "d"), "limit": 0.05, "reached": False,
    },
    "spread_held": {"value": 3.04, "limit_m": 3.0, "ends": (2.0, 5.0)},
    "traces_here": {"fewest": 3, "most": 5, "thin": False},
    "spread_here": {"value": 3.5, "ends": (1.8, 7.1)},
    "astray_here": {"stretches": (("Birch", "3", "receiver", 22.4, "left"),)},
    "fit_for": {"fit": ("Moss",), "others": (("Lichen", "torn"),)},
    "variants_here": {"variants": (("Way 2", 2, 41.0),)},
    "pair_unknown": {"a": "Alder", "b": "Birch", "because": MEET},
    "pair_apart": {
        "better": "Alder", "worse": "Birch", "rides": 4, "by_m": (1.6, 0.4, 2.9), "confidence": 0.95,
    },
    "pair_not_apart": {"a": "Alder", "b": "Birch", "rides": 4},
    "pair_apart_elsewhere": {"a": "Alder", "b": "Birch", "rides": 4, "better": "Alder"},
    "pair_correlated": {"length_m": 412.0, "rides": 4},
    "pair_many_rides": {"most": 200},
    "pair_more_rides": {"ratio": 1.41, "more": 7, "power": 0.8},
    "pair_beside": {"right": "Alder", "left": "Birch", "by_m": (2.3, 1.1, 3.5)},
    "pair_clock": {"ahead": "Alder", "behind": "Birch", "by_s": 3600.9},
    "pair_no_clock": {"because": Reason.of("clocks_set", low_s=0.0, high_s=3600.0)},
    "timeless": {"traces": (("Alder", "1"), ("Birch", "2"))},
    "holds_laps": {"files": (("a.gpx", 3), ("b.gpx", 2))},
    "cover_little": {"traces": (("a.gpx#2", 0.31, 1250.0, 0.0, 40.0),)},
    "shared_way": {"ways": (("Route B", 2410.0, 60.0), ("Route C", 1800.0, 0.0))},
    "went_aside": {"traces": (("Alder", "3", 1204.0, 85.0),)},
    "ran_alike": {"pairs": ((("Alder", "1"), ("Birch", "2"), 3600.0),)},
    "unknown_watches": {"count": 3, "used": 8},
    "route_cut_away": {"name": "Route A"},
}  # fmt: skip

EXAMPLES = tuple(Reason.of(code, **VALUES.get(code, {})) for code in SENTENCES)


def told(text: str) -> Reason:
    """Return a reason that says a text, as an earlier edition or a hostile file gives it."""
    return Reason.of("told", text=text)
