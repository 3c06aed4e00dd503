"""How long a newcomer needs from a folder of traces to a finished still, on the drop page in a real browser.

Three actions: start the page, drop the folder, press one button. Every one of them is done as a person does
it, but without thinking; the times are those of the machine.

Usage: python tests/bench/newcomer.py [FOLDER]
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"]


def main(traces: Path) -> None:
    """Do it once with nothing but the traces, in a folder of their own, and print when what was there."""
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        folder = Path(place) / "rides"
        folder.mkdir()
        for file in sorted(file for file in traces.iterdir() if file.suffix in (".gpx", ".fit", ".tcx")):
            shutil.copy(file, folder)
        chromium = play.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        page = chromium.new_page(viewport={"width": 1280, "height": 860})
        begun = time.perf_counter()
        command = [sys.executable, "-m", "trackspread", "drop", "--no-browser"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            try:
                for words in actions(page, server, folder, Path(place)):
                    print(f"{time.perf_counter() - begun:5.1f} s  {words}")
            finally:
                server.terminate()
        chromium.close()


def actions(page: Any, server: subprocess.Popen[str], folder: Path, place: Path) -> Any:
    """Yield what has just been reached."""
    assert server.stdout is not None
    address = re.search(r"http://\S+", server.stdout.readline())
    assert address is not None
    page.goto(address[0])
    page.wait_for_selector("#limits:not(:empty)")
    yield "1. trackspread drop: the page is open"
    devtools = page.context.new_cdp_session(page)
    data = {"items": [], "files": [str(folder)], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        devtools.send("Input.dispatchDragEvent", {"type": kind, "x": 300, "y": 480, "data": data})
    page.wait_for_selector("#table-place table", timeout=60_000)
    yield f"2. folder dropped: {page.inner_text('#check-words')}"
    page.click("#start")
    page.wait_for_selector("#result:not([hidden])", timeout=110_000)
    page.locator("#stills img").first.scroll_into_view_if_needed()
    while page.locator("#stills img").first.evaluate("picture => picture.naturalWidth") != 1920:
        page.wait_for_timeout(50)
    yield f"3. button pressed: {page.locator('#stills li').count()} stills are finished, the first is seen"
    with page.expect_download() as saving:
        page.locator("#stills .save").first.click()
    saving.value.save_as(place / saving.value.suggested_filename)
    yield f"   and saved with a click: {saving.value.suggested_filename}"


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "demo_routes")
