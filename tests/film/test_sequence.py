"""The full-screen page in a real browser without network: keys, shots, clean picture, hostile text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from records import PAYLOADS, make_analysis
from trackspread.film.canvas import ASPECT
from trackspread.film.sequence import MOST_SEQUENCE_POINTS, _sequence_data, sequence_page
from trackspread.film.storyboard import scenes

SIZES = {"wide": (1920, 1080), "phone": (390, 844)}


def _scenes(**options: Any) -> Any:
    return scenes(make_analysis(**options), ASPECT)


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Any]:
    """Open a page of an analysis; every request beyond the file itself and every error is kept."""
    contexts = []

    def open_page(size: str = "wide", reduced: bool = False, dark: bool = False, **options: Any) -> Any:
        width, height = SIZES[size]
        context = browser.new_context(
            offline=True,
            viewport={"width": width, "height": height},
            reduced_motion="reduce" if reduced else "no-preference",
            color_scheme="dark" if dark else "light",
        )
        contexts.append(context)
        page = context.new_page()
        page.seen = {"requests": [], "errors": []}
        page.on("request", lambda request: page.seen["requests"].append(request.url))
        page.on("pageerror", lambda error: page.seen["errors"].append(str(error)))
        page.on("console", lambda message: page.seen["errors"].append(message.text))
        file = tmp_path / "sequence.html"
        file.write_text(sequence_page(_scenes(**options)), encoding="utf-8")
        page.goto(file.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()


def _quiet(page: Any) -> None:
    assert len(page.seen["requests"]) == 1
    assert page.seen["errors"] == []


def test_the_page_carries_all_it_needs_and_a_policy() -> None:
    """Content Security Policy level 3 (W3C): nothing by default, scripts and styles by their hashes."""
    page = sequence_page(_scenes(hostile=True))
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy
    assert "default-src 'none'" in policy[1]
    assert "unsafe" not in policy[1]
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?https?:", page)
    assert not re.search(r"\son\w+\s*=", page.split('id="data">')[0])


def test_no_dates_are_in_it() -> None:
    data = _sequence_data(_scenes())
    for scene in data["scenes"]:
        assert all(abs(sum(path["t"])) < 864_000 for path in scene["paths"])
        assert all(at is None or abs(at) < 86_400 for shot in scene["shots"] for at in shot["enter"])


def test_places_in_the_data_are_within_a_decimetre_of_the_scene() -> None:
    made = _scenes()
    for scene, data in zip(made, _sequence_data(made)["scenes"], strict=True):
        np.testing.assert_allclose(np.cumsum(data["x"]) / 10, scene.x_m, atol=0.051)
        for path, kept in zip(scene.paths, data["paths"], strict=True):
            known = np.isfinite(path.time_s)
            np.testing.assert_allclose(np.cumsum(kept["y"]) / 10, path.y_m[known], atol=0.051)


def test_many_points_are_thinned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trackspread.film.sequence.MOST_SEQUENCE_POINTS", 500)
    data = _sequence_data(_scenes(routes=1))
    assert sum(len(path["x"]) for path in data["scenes"][0]["paths"]) <= 510
    assert MOST_SEQUENCE_POINTS > 100_000


@pytest.mark.browser
@pytest.mark.parametrize("size", SIZES)
def test_keys_go_through_all_shots_without_a_request_or_an_error(opened: Any, size: str) -> None:
    page = opened(size)
    count = page.evaluate("shots.length")
    titles = [page.inner_text("#title")]
    for _ in range(count - 1):
        page.keyboard.press("ArrowRight")
        titles.append(page.inner_text("#title"))
    assert titles == page.evaluate("shots.map((shot) => shot.title)")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("state.at") == count - 1
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("state.at") == count - 2
    page.keyboard.press("Home")
    assert page.evaluate("state.at") == 0
    page.click("#next")
    assert page.evaluate("state.at") == 1
    page.wait_for_timeout(300)
    _quiet(page)


@pytest.mark.browser
@pytest.mark.parametrize("size", SIZES)
def test_nothing_overlaps_and_nothing_runs_out_of_the_window(opened: Any, size: str) -> None:
    page = opened(size)
    for _ in range(page.evaluate("shots.length")):
        boxes = page.evaluate(
            """() => ["title", "line", "whom", "state", "legend", "clock", "north", "scale", "ruler", "notes",
              "controls"].map((id) => [id, document.getElementById(id)]).filter(([, e]) => !e.hidden &&
              e.textContent.trim()).map(([id, e]) => { const range = document.createRange();
              range.selectNodeContents(e); const box = range.getBoundingClientRect();
              return [id, box.left, box.top, box.right, box.bottom]; })"""
        )
        width, height = SIZES[size]
        for name, left, top, right, bottom in boxes:
            assert left >= 0, name
            assert top >= 0, name
            assert right <= width, name
            assert bottom <= height, name
        for i, (a, *one) in enumerate(boxes):
            for b, *two in boxes[i + 1 :]:
                apart = (
                    one[2] <= two[0] + 1
                    or two[2] <= one[0] + 1
                    or one[3] <= two[1] + 2
                    or two[3] <= one[1] + 2
                )
                assert apart, (a, b, one, two)
        assert page.evaluate("box().high") > 0.25 * height
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(50)


@pytest.mark.browser
def test_time_runs_stops_and_goes_on(opened: Any) -> None:
    page = opened()
    page.wait_for_timeout(400)
    assert page.evaluate("state.since") > 0
    page.keyboard.press(" ")
    first = page.evaluate("state.since")
    page.wait_for_timeout(300)
    assert page.evaluate("state.since") == first
    assert page.inner_text("#pause") == "Go on"
    page.keyboard.press(" ")
    page.wait_for_timeout(300)
    assert page.evaluate("state.since") > first


@pytest.mark.browser
def test_it_flies_on_by_itself_after_a_shot(opened: Any) -> None:
    page = opened()
    page.evaluate("state.since = 99")
    page.wait_for_function("state.at === 1")
    assert page.evaluate("state.from !== null")


@pytest.mark.browser
def test_a_clean_picture_has_nothing_but_the_ground(opened: Any) -> None:
    page = opened()
    page.keyboard.press("c")
    page.wait_for_timeout(2300)
    assert page.evaluate("document.body.innerText.trim()") == ""
    assert page.evaluate("getComputedStyle(document.body).cursor") == "none"
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.body.innerText.trim()") == ""
    page.keyboard.press("Escape")
    assert page.is_visible("#title")


@pytest.mark.browser
def test_the_traces_are_drawn_as_the_ride_goes_on(opened: Any) -> None:
    """More ink in the colour of a receiver later than sooner."""
    page = opened(routes=1)
    page.keyboard.press("p")
    ink = []
    for since in (0.5, 6.0, 11.9):
        page.evaluate(f"state.since = {since}")
        page.wait_for_timeout(150)
        ink.append(
            page.evaluate(
                """() => { const p = pen.getImageData(0, 0, canvas.width, canvas.height).data; let n = 0;
                for (let i = 0; i < p.length; i += 4) if (Math.max(p[i], p[i + 1], p[i + 2]) -
                Math.min(p[i], p[i + 1], p[i + 2]) > 90) n++; return n; }"""
            )
        )
    assert 0 < ink[0] < 0.4 * ink[1] < 0.4 * ink[2]


@pytest.mark.browser
def test_reduced_motion_stands_still_and_shows_all_at_once(opened: Any) -> None:
    page = opened(reduced=True)
    first = page.evaluate("JSON.stringify([state.at, moment()])")
    page.wait_for_timeout(400)
    assert page.evaluate("JSON.stringify([state.at, moment()])") == first
    assert page.evaluate("moment().reveal") == 1
    page.keyboard.press("ArrowRight")
    assert page.evaluate("state.from") is None


@pytest.mark.browser
def test_dark_and_light(opened: Any) -> None:
    page = opened(dark=True)
    page.wait_for_timeout(100)
    corner = "[...pen.getImageData(2, 2, 1, 1).data.slice(0, 3)]"
    assert max(page.evaluate(corner)) < 60
    page.keyboard.press("d")
    page.wait_for_timeout(100)
    assert min(page.evaluate(corner)) > 200


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing(browser: Any, tmp_path: Path, axe: str, width: int, scheme: str) -> None:
    """axe-core, an outside checker, on the whole route and on a place."""
    file = tmp_path / "sequence.html"
    file.write_text(sequence_page(scenes(make_analysis(), ASPECT)), encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme=scheme, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(file.as_uri())
    page.evaluate(axe)
    for _ in range(2):
        page.wait_for_timeout(200)
        found = page.evaluate("axe.run(document).then((r) => r.violations)")
        assert [(v["id"], [node["html"] for node in v["nodes"]]) for v in found] == []
        page.keyboard.press("n")
    context.close()


@pytest.mark.browser
def test_hostile_text_stays_text(opened: Any) -> None:
    page = opened(hostile=True)
    for _ in range(page.evaluate("shots.length")):
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(30)
    assert "owned" not in page.title()
    assert page.query_selector_all("img, svg") == []
    shown = page.evaluate(
        "JSON.stringify(data.scenes.map((s) => [s.name, s.receivers, s.shots.map((t) => t.lines)]))"
    )
    assert any(payload in shown for payload in PAYLOADS)
    _quiet(page)


@pytest.mark.browser
def test_a_published_page_has_no_private_mark_and_a_private_one_has(opened: Any) -> None:
    assert "starts" not in opened(published=True).inner_text("#notes")
    assert opened().inner_text("#private") == "Private: shows where rides start and end."
