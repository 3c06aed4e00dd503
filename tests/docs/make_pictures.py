"""Make the pictures in docs/pictures from the demo routes: report, map, drop page and its result, a still.

Usage: python tests/docs/make_pictures.py [FOLDER]
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"]
READ = (".csv", ".fit", ".gpx", ".tcx")
WIDE = {"width": 1280, "height": 860}
TALL = {"width": 1280, "height": 1890}


def main(target: Path) -> None:
    """Analyse the demo, open what it wrote, and photograph it."""
    target.mkdir(parents=True, exist_ok=True)
    tool = [sys.executable, "-m", "trackspread"]
    with tempfile.TemporaryDirectory() as made, sync_playwright() as play:
        out = Path(made) / "demo"
        subprocess.run([*tool, "analyse", "demo_routes", "--out", str(out), "--quiet"], cwd=ROOT, check=True)
        chromium = play.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        page = chromium.new_context(viewport=WIDE, locale="en-GB").new_page()
        page.set_viewport_size(TALL)
        page.goto((out / "report.html").as_uri())
        take(page, target / "report.png")
        page.set_viewport_size(WIDE)
        page.goto((out / "map.html").as_uri())
        take(page, target / "map.png")
        drop(tool, page, target)
        chromium.close()
        subprocess.run([*tool, "film", str(out), "--size", "1080", "--quiet"], cwd=ROOT, check=True)
        still = (
            next(iter((out / "stills").glob("*first-fix*.png")), None)
            or sorted((out / "stills").glob("*.png"))[0]
        )
        small(still.read_bytes(), target / "still.png", every=2)


def drop(tool: list[str], page: Any, target: Path) -> None:
    """Drop the demo on the drop page, photograph what was read, and what came of it."""
    command = [*tool, "drop", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        try:
            assert server.stdout is not None
            address = re.search(r"http://\S+", server.stdout.readline())
            assert address is not None
            page.goto(address[0])
            page.set_input_files(
                "#files",
                sorted(str(file) for file in (ROOT / "demo_routes").iterdir() if file.suffix in READ),
            )
            page.locator("#check table").wait_for(timeout=60_000)
            page.evaluate("scrollTo(0, 0)")
            take(page, target / "drop.png")
            page.click("#start")
            page.locator("#save-all[href]").wait_for(timeout=120_000)
            page.evaluate("document.getElementById('result').scrollIntoView()")
            page.wait_for_timeout(1500)  # pictures arrive as they come into view
            take(page, target / "drop-result.png")
        finally:
            server.terminate()


def take(page: Any, file: Path) -> None:
    """Photograph what the window shows."""
    page.wait_for_timeout(800)
    small(page.screenshot(), file)


def small(png: bytes, file: Path, every: int = 1) -> None:
    """Write a picture in 256 colours, so that it stays small; ``every`` 2 halves both sides.

    The octree keeps rare colours, those of the lines, apart; a median cut would merge them.
    """
    picture = Image.open(io.BytesIO(png)).convert("RGB").reduce(every)
    octree = Image.Quantize.FASTOCTREE
    picture.quantize(256, octree, dither=Image.Dither.NONE).save(file, optimize=True)
    print(f"{file.name}: {file.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures")
