"""Fields of receivers: on one route, in pairs, against a reference line, over all routes."""

from __future__ import annotations

from trackspread import model as m
from trackspread.results.schema.fields import Column, Field, Group, Subject, figure, text
from trackspread.results.schema.intervals import Interval, Median, Middle
from trackspread.results.schema.kinds import Count, Many, Number, Text, Truth, length
from trackspread.results.schema.pieces import listed
from trackspread.results.schema.reasons import Sentence, Why
from trackspread.results.schema.words import BASES, CLAIM, CLAIMED, CLAIMS, FIGURES, SHARE
from trackspread.results.words.comparison import comparison_sentence

APART = "never_meet"
FEW = "few_rides"
NEVER = "half_never"


def _median(name: str, title: str) -> tuple[Column, ...]:
    return (
        figure(name, f"{title}, median", "s", interval=True),
        Column(f"{name}_confidence", "level", kind="share", part="confidence"),
        Column(f"{name}_rides", "of rides", part="n"),
    )


FIRST = _median("first_fix", "first fix")
SETTLED = (
    *_median("settled_fix", "settled fix"),
    Column("settled_fix_never", "of them never", part="censored"),
)
SEEN = _median("fix_seen", "fix shown")
LIMITS = (
    Column("limit_low", "limits of agreement, low", "m", part=0),
    Column("limit_high", "limits of agreement, high", "m", part=1),
)

# fmt: off
RECEIVER = Subject(name="receiver", about="all rides of one receiver", record=m.ReceiverResult, fields=(
    Field("receiver", Text(), show=text("receiver", "watch")),
    Field("rides", Count(), show=Column("rides", "rides")),
    Field("spread", Interval(), "of what is kept", show=figure("spread", "spread", "m", interval=True)),
    Field("spread_all", Interval(), "of all errors", optional=True,
          show=figure("spread_all", "spread of all errors", "m", interval=True)),
    Field("first_fix_s", Median(), show=FIRST),
    Field("settled_fix_s", Median(), show=SETTLED),
    Field("stretch_share", Number(3, bounds=SHARE), "share of its stations that lie in stretches", why=FEW,
          show=Column("stretch_share", "share in stretches", kind="share")),
    Field("claimed_m", CLAIM, "what it says of its own accuracy", optional=True, show=CLAIMED),
    Field("claim", CLAIMS, "whether it claims less error than spread_all shows, as much, or more",
          optional=True),
))

SEPARATION = Group((
    Field("median", length(0), why=APART, source="separation_median_m",
          show=figure("separation_median", "apart, median", "m")),
    Field("p95", length(0), why=APART, source="separation_p95_m",
          show=figure("separation_p95", "apart, 95 % within", "m")),
))

PAIR = Subject(name="pair", about="two receivers ridden together", record=m.PairResult, fields=(
    Field("a", Text(), show=text("a", "watch a")),
    Field("b", Text(), show=text("b", "watch b")),
    Field("rides", Count(), "rides on which both were carried", show=Column("rides", "rides together")),
    Field("ride_names", Many(Text()), optional=True),
    Field("clock_offset_s", Middle("_s"), "clock of a minus clock of b", derived=True,
          because="clock_offset_s.reason"),
    Field("clock_offset", Interval("_s"), optional=True, source="clock_offset_s",
          show=figure("clock_offset", "clock a − b", "s", interval=True)),
    Field("separation_m", SEPARATION, source="."),
    Field("sd_a", Interval(), show=figure("sd_a", "SD of a", "m", interval=True)),
    Field("sd_b", Interval(), show=figure("sd_b", "SD of b", "m", interval=True)),
    Field("common_sd_m", Middle(), "what both share: the line ridden, the atmosphere", derived=True,
          because="common_sd_m.reason"),
    Field("common_sd", Interval(), optional=True, source="common_sd_m",
          show=figure("common_sd", "SD shared", "m", interval=True)),
    Field("bias", Interval(), optional=True, source="bias_m",
          show=figure("bias", "mean a − b (right +)", "m", interval=True)),
    Field("limits_m", Many(Number(1), 2), "95 % limits of agreement of the across-track difference a minus b",
          optional=True, show=LIMITS),
    Field("difference", Interval(), show=figure("difference", "SD a − SD b", "m", interval=True)),
    Field("told_apart", Truth(), "whether the interval of the difference leaves out zero",
          show=Column("told_apart", "told apart", kind="truth")),
    Field("sentence", Why(), optional=True, source="outcome"),
))

REFERENCE = Subject(name="reference", about="accuracy of one receiver against a reference line",
                    record=m.ReferenceResult, fields=(
    Field("receiver", Text(), show=text("receiver", "watch")),
    Field("bias", Interval(), source="bias_m",
          show=figure("bias", "mean offset from it (right +)", "m", interval=True)),
    Field("rmse", Interval(), source="rmse_m", show=figure("rmse", "RMSE", "m", interval=True)),
    Field("accuracy_95", Interval(), source="accuracy_95_m",
          show=figure("accuracy_95", "95 % within", "m", interval=True)),
    Field("segment_bias_m", Many(Number(1), array=True)),
    Field("segment_rmse_m", Many(Number(1), array=True)),
))

SUMMARY = Subject(name="watch", about="one receiver over all its rides and routes", record=m.ReceiverSummary,
                  fields=(
    Field("receiver", Text(), show=text("receiver", "watch")),
    Field("rides", Count(), show=Column("rides", "rides")),
    Field("routes", Many(Text()), show=text("routes", "routes", part=listed)),
    Field("spread", Interval(), show=figure("spread", "spread", "m", interval=True)),
    Field("first_fix_s", Median(), show=FIRST),
    Field("settled_fix_s", Median(), show=SETTLED),
    Field("stray_share", Interval("", 3), "share of its way on which it left the others",
          show=figure("stray_share", "share astray", "", interval=True)),
    Field("claimed_m", CLAIM, "what it says of its own accuracy", show=CLAIMED),
    Field("claim", CLAIMS, "whether it claims less error than spread shows, as much, or more", optional=True),
    Field("fix_seen_s", Median(), "when it showed its fix, as the rider noted it", optional=True, show=SEEN),
    Field("group", Text(), "receivers that share a letter are not told apart",
          show=text("group", "group")),
    Field("own_sd", Interval(), "what is left without all that the receivers of a ride share", optional=True,
          show=figure("own_sd", "own SD", "m", interval=True)),
))

DIFFERENCE = Subject(name="difference", about="two receivers over everything they rode",
                     record=m.Difference, fields=(
    Field("a", Text(), show=text("a", "watch a")),
    Field("b", Text(), show=text("b", "watch b")),
    Field("rides", Count(), show=Column("rides", "rides")),
    Field("basis", BASES, "on shared rides, on rides of their own, or on both", show=text("basis", "basis")),
    Field("ratio", Interval(""), "SD of a over SD of b",
          show=figure("ratio", "SD a / SD b", "", interval=True)),
    Field("difference", Interval(), "SD of a minus SD of b",
          show=figure("difference", "SD a − SD b", "m", interval=True)),
    Field("told_apart", Truth(), show=Column("told_apart", "told apart", kind="truth")),
    Field("p_adjusted", Number(4, bounds=SHARE), "held to the whole family of comparisons", why=FEW,
          show=Column("p_adjusted", "p, adjusted")),
))

BY_RIDE = Subject(name="by_ride", about="two receivers by a figure that each ride has one of",
                  record=m.RideDifference, fields=(
    Field("figure", FIGURES, "which figure", show=text("figure", "figure")),
    Field("a", Text(), show=text("a", "watch a")),
    Field("b", Text(), show=text("b", "watch b")),
    Field("rides", Count(), show=Column("rides", "rides")),
    Field("basis", BASES, "on shared rides, or on rides of their own", show=text("basis", "basis")),
    Field("difference", Number(3), "median of a minus median of b, seconds or a share",
          show=Column("difference", "a − b")),
    Field("p", Number(4, bounds=SHARE), "exact test of this figure alone", show=Column("p", "p")),
    Field("smallest_p", Number(4, bounds=SHARE), "least that so many rides could give",
          show=Column("smallest_p", "smallest p")),
    Field("p_adjusted", Number(4, bounds=SHARE), "held to the whole family of comparisons", why=FEW,
          show=Column("p_adjusted", "p, adjusted")),
    Field("told_apart", Truth(), show=Column("told_apart", "told apart", kind="truth")),
))

COMPARISON = Subject(name="comparison", about="all receivers side by side, in the order of their spread",
                     record=m.Comparison, fields=(
    Field("receivers", Many(SUMMARY)),
    Field("differences", Many(DIFFERENCE)),
    Field("by_ride", Many(BY_RIDE), optional=True),
    Field("confidence", Number(4, bounds=SHARE), "of its intervals", optional=True),
    Field("sentence", Sentence(comparison_sentence), "who is more consistent, by how much and how sure",
          source=".", optional=True, derived=True),
))
