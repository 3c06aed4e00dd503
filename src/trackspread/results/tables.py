"""The tables of a result: built once from the document, shown in the report and written as tables/*.csv."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from trackspread.results.document import Document

Kind = Literal["text", "number", "share", "truth", "figure", "verdict", "origin"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One cell: a figure, its interval where it has one, and why it is unknown where it is."""

    value: float | None
    low: float | None = None
    high: float | None = None
    reason: str = ""


Cell = str | float | bool | Figure | None


@dataclass(frozen=True, slots=True)
class Column:
    """A column: ``name`` and ``unit`` head the file, ``title`` heads the page."""

    name: str
    title: str
    unit: str = ""
    kind: Kind = "number"
    interval: bool = False

    def headers(self) -> list[str]:
        """Return the names of the columns that this one takes up in a file."""
        unit = f"_{self.unit}" if self.unit else ""
        names = [f"{self.name}{unit}"]
        if self.interval:
            names += [f"{self.name}_low{unit}", f"{self.name}_high{unit}"]
        return names


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """Columns and rows; ``name`` is the file's stem."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def text(name: str, title: str) -> Column:
    """Return a column of texts."""
    return Column(name, title, kind="text")


def figure(name: str, title: str, unit: str, interval: bool = False) -> Column:
    """Return a column of figures."""
    return Column(name, title, unit, "figure", interval)


WHO = (text("file", "file"), text("receiver", "receiver"), text("ride", "ride"))
SPAN = (Column("from", "from", "m"), Column("to", "to", "m"))
INPUTS = (
    *WHO,
    text("route", "route"),
    text("status", "status"),
    text("reason", "why set aside"),
    text("format", "format"),
    text("name", "name in the file"),
    Column("points", "points"),
    Column("points_set_aside", "points set aside"),
    Column("receiver_from", "receiver:", kind="origin"),
    Column("ride_from", "ride:", kind="origin"),
    text("start_time", "start (UTC)"),
    text("note", "note"),
    text("findings", "findings"),
)
TRACES = (
    Column("number", "no."),
    *WHO,
    figure("spread", "spread", "m"),
    figure("bias", "mean offset (right +)", "m"),
    figure("p95", "95 % within", "m"),
    Column("coverage", "coverage", kind="share"),
    figure("recorded_length", "recorded length", "m"),
    Column("gaps", "gaps"),
    Column("gaps_length", "length of gaps", "m"),
)
FIXES = (
    *WHO,
    figure("first_fix", "first fix", "s"),
    text("first_fix_source", "start known from"),
    figure("first_fix_station", "first fix at", "m"),
    Column("missing", "missing before it", "m"),
    Column("lower_bound", "at least", "s"),
    figure("settled_fix", "settled fix", "s"),
    figure("settled_fix_station", "settled at", "m"),
    Column("censored", "never settled", kind="truth"),
    Column("band", "band", "m"),
    Column("hold", "hold", "s"),
)
SEGMENTS = (
    *SPAN,
    Column("verdict", "verdict", kind="verdict"),
    Column("traces", "traces"),
    figure("spread", "spread", "m", interval=True),
    figure("p95", "95 % within", "m"),
    figure("widest", "widest", "m"),
    Column("coverage", "coverage", kind="share"),
    text("reasons", "why"),
)
STRETCHES = (
    *SPAN,
    *WHO,
    text("side", "side"),
    figure("peak", "farthest", "m"),
    figure("mean", "mean", "m"),
    figure("seconds", "lasted", "s"),
    text("start_time", "began (UTC)"),
    text("cause", "cause"),
)
RECEIVERS = (
    text("receiver", "receiver"),
    Column("rides", "rides"),
    figure("spread", "spread", "m", interval=True),
    figure("first_fix", "first fix, median", "s", interval=True),
    Column("first_fix_confidence", "level", kind="share"),
    Column("first_fix_rides", "of rides"),
    figure("settled_fix", "settled fix, median", "s", interval=True),
    Column("settled_fix_confidence", "level", kind="share"),
    Column("settled_fix_rides", "of rides"),
    Column("settled_fix_never", "of them never"),
    Column("stretch_share", "share in stretches", kind="share"),
)
PAIRS = (
    text("a", "receiver a"),
    text("b", "receiver b"),
    Column("rides", "rides together"),
    figure("clock_offset", "clock a − b", "s", interval=True),
    figure("separation_median", "apart, median", "m"),
    figure("separation_p95", "apart, 95 % within", "m"),
    figure("sd_a", "SD of a", "m", interval=True),
    figure("sd_b", "SD of b", "m", interval=True),
    figure("common_sd", "SD shared", "m", interval=True),
    figure("bias", "mean a − b (right +)", "m", interval=True),
    Column("limit_low", "limits of agreement, low", "m"),
    Column("limit_high", "limits of agreement, high", "m"),
    figure("difference", "SD a − SD b", "m", interval=True),
    Column("told_apart", "told apart", kind="truth"),
)
FILM = (
    *SPAN,
    Column("verdict", "verdict", kind="verdict"),
    text("why", "why"),
    Column("west", "west", "deg"),
    Column("south", "south", "deg"),
    Column("east", "east", "deg"),
    Column("north", "north", "deg"),
)


def inputs_table(document: Document) -> Table:
    """Return what became of every trace of every file."""
    rows = []
    for record in document["inputs"]:
        found = "; ".join(f"{f['text']} ({f['first_place']})" for f in record["findings"])
        rows.append(tuple(found if c.name == "findings" else record[c.name] for c in INPUTS))
    return Table(name="inputs", title="Inputs", columns=INPUTS, rows=tuple(rows))


def route_tables(route: Document) -> tuple[Table, ...]:
    """Return the tables of one route: traces, fixes, segments, stretches, receivers, pairs, film."""
    made = (
        ("traces", "Traces", TRACES, [_trace(i, t) for i, t in enumerate(route["traces"])]),
        ("fixes", "First and settled fixes", FIXES, [_fixes(t) for t in route["traces"]]),
        ("segments", "Segments", SEGMENTS, [_segment(s) for s in route["segments"]]),
        ("stretches", "Stretches", STRETCHES, [_stretch(s) for s in route["stretches"]]),
        ("receivers", "Receivers", RECEIVERS, [_receiver(r) for r in route["receivers"]]),
        ("pairs", "Receivers ridden together", PAIRS, [_pair(p) for p in route["pairs"]]),
        ("film", "Film list", FILM, [_film(f) for f in route["film"]]),
    )
    return tuple(
        Table(name=name, title=title, columns=columns, rows=tuple(rows))
        for name, title, columns, rows in made
    )


# --- rows --------------------------------------------------------------------------------------------


def _one(record: Document, name: str) -> Figure:
    return Figure(value=record[name], reason=record.get(f"{name}_reason", ""))


def _interval(estimate: Document, value: str, low: str, high: str) -> Figure:
    return Figure(
        value=estimate[value], low=estimate[low], high=estimate[high], reason=estimate.get("reason", "")
    )


def _metres(estimate: Document) -> Figure:
    return _interval(estimate, "value_m", "low_m", "high_m")


def _who(record: Document) -> tuple[str, str, str]:
    return record["file"], record["receiver"], record["ride"]


def _trace(number: int, trace: Document) -> tuple[Cell, ...]:
    gaps = trace["gaps"]
    figures = (_one(trace, name) for name in ("spread_m", "bias_m", "p95_m"))
    length = sum(gap["to_m"] - gap["from_m"] for gap in gaps)
    return (
        number, *_who(trace), *figures, trace["coverage"], _one(trace, "recorded_length_m"), len(gaps), length
    )  # fmt: skip


def _fixes(trace: Document) -> tuple[Cell, ...]:
    first, settled = trace["first_fix"], trace["settled_fix"]
    return (
        *_who(trace),
        _one(first, "value_s"), first["source"], _one(first, "at_station_m"),
        first["missing_m"], first["lower_bound_s"],
        _one(settled, "value_s"), _one(settled, "at_station_m"),
        settled["censored"], settled["band_m"], settled["hold_s"],
    )  # fmt: skip


def _segment(segment: Document) -> tuple[Cell, ...]:
    return (
        segment["from_m"], segment["to_m"], segment["verdict"], segment["traces"], _metres(segment["spread"]),
        _one(segment, "p95_m"), _one(segment, "widest_m"), segment["coverage"], "; ".join(segment["reasons"]),
    )  # fmt: skip


def _stretch(stretch: Document) -> tuple[Cell, ...]:
    return (
        stretch["from_m"], stretch["to_m"], *_who(stretch), stretch["side"], _one(stretch, "peak_m"),
        _one(stretch, "mean_m"), _one(stretch, "seconds"), stretch["start_time"], stretch["cause"],
    )  # fmt: skip


def _receiver(receiver: Document) -> tuple[Cell, ...]:
    first, settled = receiver["first_fix_s"], receiver["settled_fix_s"]
    return (
        receiver["receiver"], receiver["rides"], _metres(receiver["spread"]),
        _interval(first, "median", "low", "high"), first.get("confidence"), first["n"],
        _interval(settled, "median", "low", "high"),
        settled.get("confidence"), settled["n"], settled["censored"],
        receiver["stretch_share"],
    )  # fmt: skip


def _pair(pair: Document) -> tuple[Cell, ...]:
    apart: dict[str, Any] = pair["separation_m"]
    return (
        pair["a"], pair["b"], pair["rides"],
        _interval(pair["clock_offset"], "value_s", "low_s", "high_s"),
        _one(apart, "median"), _one(apart, "p95"),
        *(_metres(pair[name]) for name in ("sd_a", "sd_b", "common_sd", "bias")),
        *pair["limits_m"], _metres(pair["difference"]), pair["told_apart"],
    )  # fmt: skip


def _film(entry: Document) -> tuple[Cell, ...]:
    return (entry["from_m"], entry["to_m"], entry["verdict"], entry["why"], *entry["bounds"])
