"""Results changed at random after they were written: every reader of a folder takes them or refuses them.

Long: from ``tests``, ``python -m fuzz.changed_results 2000 7`` (how many, seed), prints what was seen.
"""

from __future__ import annotations

import io
import json
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import trackspread as ts
from fuzz.pipeline_run import bounded
from records import PAYLOADS
from trackspread.compare.standings import standings
from trackspread.errors import TrackspreadError
from trackspread.film.storyboard import scenes
from trackspread.planning.table import ride_plans
from trackspread.publish.cut import cut_for_publishing

LONGEST_S = 20.0
ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 7, 2**63, -(10**400), 1e308, -1e308, 5e-324, 0.5, "", " ", "x" * 5000, "torn",
    "2031-03-03T07:00:00Z", "\ud800", "\x1b[2J", [], {}, [None], [[0.0, 0.0]], {"value_m": 1.0}, *PAYLOADS,
)  # fmt: skip
RIDES = Path(__file__).parents[2] / "demo_routes"


def place_in(document: Any, draw: random.Random) -> tuple[Any, Any]:
    """Return a container and a key in it, drawn level by level: long lists do not drown the rest."""
    node = document
    while True:
        key = draw.choice(list(node)) if isinstance(node, dict) else draw.randrange(len(node))
        if not isinstance(node[key], dict | list) or not node[key] or draw.random() < 0.15:
            return node, key
        node = node[key]


def changed_document(document: Any, draw: random.Random) -> str:
    """Change one to three values in place, and return what was done."""
    told = []
    for _ in range(draw.choice((1, 1, 1, 2, 3))):
        node, key = place_in(document, draw)
        kind = draw.choice(("odd", "odd", "odd", "gone", "twice", "other", "negative"))
        if kind == "gone":
            del node[key]
        elif kind == "twice" and isinstance(node, list):
            node.insert(key, node[key])
        elif kind == "other":
            other, at = place_in(document, draw)
            node[key] = json.loads(json.dumps(other[at]))
        elif kind == "negative" and isinstance(node[key], int | float):
            node[key] = -node[key]
        else:
            node[key] = draw.choice(ODD)
        told.append(f"{kind} {key}")
    return ", ".join(told)


def changed_arrays(data: bytes, draw: random.Random) -> tuple[bytes, str]:
    """Return an archive of arrays with one array, or some bytes, changed."""
    if draw.random() < 0.3:
        raw = bytearray(data)
        for _ in range(draw.choice((1, 4, 40))):
            raw[draw.randrange(len(raw))] = draw.randrange(256)
        return bytes(raw[: draw.choice((len(raw), len(raw), draw.randrange(len(raw))))]), "bytes"
    with np.load(io.BytesIO(data)) as held:
        arrays = {name: held[name] for name in held.files}
    name = draw.choice(sorted(arrays))
    kind, change = draw.choice(sorted(CHANGES.items()))
    new = change(arrays[name])
    arrays.pop(name)
    if new is not None:
        arrays[name] = new
    stream = io.BytesIO()
    np.savez_compressed(stream, allow_pickle=True, **arrays)
    return stream.getvalue(), f"{kind} {name}"


CHANGES: dict[str, Callable[[Any], Any]] = {
    "gone": lambda a: None,
    "empty": lambda a: a[:0],
    "longer": lambda a: np.concatenate([a, a]),
    "shorter": lambda a: a[:-1],
    "flat": lambda a: a.ravel(),
    "scalar": lambda a: np.array(0.0),
    "text": lambda a: a.astype(str),
    "complex": lambda a: a.astype(complex),
    "objects": lambda a: a.astype(object),
    "not a number": lambda a: np.full(a.shape, np.nan),
    "endless": lambda a: np.full(a.shape, np.inf),
    "huge": lambda a: np.full(a.shape, 1e300),
    "negative": lambda a: -a.astype(float),
    "nought": np.zeros_like,
    "backwards": lambda a: a[::-1],
    "whole numbers": lambda a: np.full(a.shape, 2**62),
    "moments": lambda a: np.zeros(a.shape, dtype="datetime64[s]"),
}


def used(folder: Path, out: Path) -> None:
    """Do with a folder what people do: load, look, tabulate, compare, plan, cut, film, write again."""
    analysis = ts.load(folder)
    repr(analysis)
    analysis._repr_html_()
    for name in ("segments", "traces", "stretches", "receivers"):
        analysis.to_frame(name)
    for name in ("centreline", "segments", "stretches", "traces"):
        analysis.to_geodataframe(name)
    cut_for_publishing(analysis, hide_dates=True)
    scenes(analysis, 16 / 9)
    ts.write_report(analysis, out)


def compared(folder: Path, _: Path) -> None:
    """Rank the folder beside itself, and plan from it."""
    standings([folder, folder], "spread")
    standings([folder], "first fix")
    ride_plans(folder, 0.2, 1.5, 0.8, 0.95, None, None)


def made(folder: Path) -> Path:
    """Write the result of the demo: two routes, two watches, pairs, stretches, events."""
    ts.write_report(ts.analyse(RIDES), folder)
    return folder


def run(sound: Path, count: int, seed: int, longest_s: float = LONGEST_S) -> tuple[Counter[str], list[str]]:
    """Change ``sound`` ``count`` times; return how often it was taken or refused, and every failure."""
    draw, counts, failures = random.Random(seed), Counter[str](), []
    text, packed = (sound / "result.json").read_text("utf-8"), (sound / "arrays.npz").read_bytes()
    for number in range(count):
        with tempfile.TemporaryDirectory() as place:
            folder, out = Path(place, "changed"), Path(place, "again")
            folder.mkdir()
            document, arrays, told = json.loads(text), packed, ""
            if draw.random() < 0.6:
                told = changed_document(document, draw)
                if draw.random() < 0.5:  # the full figures follow, as if written so
                    arrays = with_figures(packed, document)
                    told += " (in both)"
            else:
                arrays, told = changed_arrays(packed, draw)
            (folder / "result.json").write_text(json.dumps(document), "utf-8")
            (folder / "arrays.npz").write_bytes(arrays)
            for use in (used, compared):
                try:
                    with bounded(longest_s):
                        use(folder, out)
                    counts["taken"] += 1
                except TrackspreadError as error:
                    counts["refused"] += 1
                    if "\n" in str(error).strip():
                        failures.append(f"{number} {told}: more than one line: {error}")
                except BaseException as error:
                    where = traceback.extract_tb(error.__traceback__)[-1]
                    failures.append(
                        f"{number} {told}: {type(error).__name__}: {str(error)[:160]} ({where.filename}:{where.lineno})"
                    )
    return counts, failures


def with_figures(packed: bytes, document: Any) -> bytes:
    """Return arrays whose full figures are those of a document."""
    with np.load(io.BytesIO(packed)) as held:
        arrays = {name: held[name] for name in held.files}
    figures = json.dumps(document | {"created": 0.0}, ensure_ascii=True).encode("ascii")
    arrays["figures"] = np.frombuffer(figures, dtype=np.uint8)
    stream = io.BytesIO()
    np.savez_compressed(stream, **arrays)
    return stream.getvalue()


def main() -> None:
    """Run and print."""
    count, seed = int(sys.argv[1]), int(sys.argv[2])
    with tempfile.TemporaryDirectory() as place:
        began = time.process_time()
        counts, failures = run(made(Path(place, "sound")), count, seed)
        print(*failures, sep="\n")
        print(f"seed {seed}: {count} results, {dict(counts)}, {len(failures)} failures, "
              f"{time.process_time() - began:.0f} s")  # fmt: skip
    sys.exit(bool(failures))


if __name__ == "__main__":
    main()
