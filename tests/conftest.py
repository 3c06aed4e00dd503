"""What all tests share: the builders beside this file, and one real browser."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import platformdirs
import pytest
from hypothesis import Phase, settings

sys.path.insert(0, str(Path(__file__).parent))

from needed import missing

settings.register_profile("no-shrinking", phases=[Phase.explicit, Phase.generate])

CHROMIUM_ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what drives a browser as slow, before ``-m`` chooses."""
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session", autouse=True)
def own_data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what the tool keeps on a machine out of the user's own folder."""
    before = os.environ.get("TRACKSPREAD_DATA")
    os.environ["TRACKSPREAD_DATA"] = str(tmp_path_factory.mktemp("data"))
    yield
    os.environ.pop("TRACKSPREAD_DATA")
    if before is not None:
        os.environ["TRACKSPREAD_DATA"] = before


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium; open pages through ``browser.new_context(offline=True)``."""
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as play:
        system = shutil.which("chromium") or shutil.which("chromium-browser")
        try:
            started = play.chromium.launch(executable_path=system, args=list(CHROMIUM_ARGUMENTS))
        except api.Error as error:
            missing(f"no Chromium to drive (run `playwright install chromium`): {str(error).splitlines()[0]}")
        yield started
        started.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """The source of axe-core, the checker of accessibility that the tests of pages run inside them."""
    place = Path(platformdirs.user_cache_dir("trackspread-tests"))
    file = Path(os.environ.get("AXE_CORE") or place / "node_modules" / "axe-core" / "axe.min.js")
    if not file.is_file():
        missing(
            f"axe-core is not there (run `npm install --prefix {place} axe-core`, or name it in AXE_CORE)"
        )
    return file.read_text("utf-8")


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """A fresh page without network, at the size of a desktop window."""
    context = browser.new_context(offline=True, viewport={"width": 1440, "height": 900})
    context.set_default_timeout(20_000)
    yield context.new_page()
    context.close()


@pytest.fixture
def command(tmp_path: Path) -> Iterator[Any]:
    """Starts the drop command as a process: see `web_client.drop_sessions`."""
    from web_client import drop_sessions

    with drop_sessions(tmp_path) as begin:
        yield begin
