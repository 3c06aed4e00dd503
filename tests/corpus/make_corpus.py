"""Odd and broken inputs, made on the fly: each kind fills a folder and names what to read.

``expected.csv`` beside this file says what must come of each. To look at them, from ``tests``::

    python -m corpus.make_corpus FOLDER
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from corpus import kinds_formats, kinds_found, kinds_places, kinds_points, kinds_times, kinds_xml
from corpus.blocks import KINDS

HERE = Path(__file__).parent
__all__ = [
    "KINDS",
    "expected",
    "kinds_formats",
    "kinds_found",
    "kinds_places",
    "kinds_points",
    "kinds_times",
    "kinds_xml",
]


def expected() -> list[dict[str, str]]:
    """Return the table of what must come of each kind."""
    with (HERE / "expected.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def main(folder: Path) -> None:
    """Write every kind into a folder of its own."""
    for name, make in KINDS.items():
        place = folder / name.replace(" ", "_")
        place.mkdir(parents=True)
        make(place)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
