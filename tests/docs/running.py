"""Runs the bash and python blocks of a document in order, in a folder of their own beside the demo routes."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from documents import ROOT, Block, blocks

RUNNABLE = {"bash", "python"}


def run_blocks(document: Path, folder: Path) -> Iterator[tuple[Block, str]]:
    """Give every runnable block and what it printed; a block that fails raises."""
    shutil.copytree(ROOT / "demo_routes", folder / "demo_routes")
    paths = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    environment = os.environ | {
        "PATH": paths,
        "XDG_CACHE_HOME": str(folder / "cache"),
        "PYTHONWARNINGS": "error",
    }
    names: dict[str, Any] = {"__name__": "__main__"}
    with contextlib.chdir(folder):
        for block in blocks(document):
            place = f"{document.name}, line {block.line}"
            if block.language == "bash":
                yield block, _bash(block.text, place, environment)
            elif block.language == "python":
                yield block, _python(block.text, place, names)


def _bash(text: str, place: str, environment: dict[str, str]) -> str:
    command = ["bash", "-euo", "pipefail", "-c", text]
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=300,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{place}: exit code {done.returncode}\n{done.stdout}{done.stderr}"
    return done.stdout


def _python(text: str, place: str, names: dict[str, Any]) -> str:
    with contextlib.redirect_stdout(io.StringIO()) as printed:
        exec(compile(text, place, "exec"), names)
    return printed.getvalue()
