"""Put what the blocks of a document really print under them. Read the change before it is committed.

Usage: python tests/docs/fill_outputs.py DOCUMENT…
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from documents import like
from running import run_blocks


def fill(document: Path) -> None:
    """Exchange the outputs that differ; blocks without an output get none."""
    text = document.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for block, found in run_blocks(document, Path(folder) / "here"):
            if block.output is not None and not like(block.output, found):
                before = f"```{block.language}\n{block.text}```\n\n```text\n"
                text = text.replace(f"{before}{block.output}```", f"{before}{found.rstrip()}\n```")
                print(f"{document.name}, line {block.line}: exchanged")
    document.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    for name in sys.argv[1:]:
        fill(Path(name).resolve())
