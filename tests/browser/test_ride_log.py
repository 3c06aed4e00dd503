"""ride-log.html in a real browser: what is pressed becomes rows that find their recordings by watch and time."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from pathlib import Path

import pytest

import trackspread as ts
from corpus.blocks import gpx, points, saved, track
from pages import watched
from trackspread.cli import main

pytestmark = pytest.mark.browser

REFUSED = (
    "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no', 'SecurityError') }})"
)


def written(folder: Path, *watches: str) -> str:
    file = folder / "ride-log.html"
    with pytest.raises(SystemExit) as ended:
        main(["log", "--out", str(file), *(part for watch in watches for part in ("--watch", watch))])
    assert ended.value.code == 0
    return file.as_uri()


@pytest.fixture
def phone(browser):
    """A phone without network, whose clock stands at 08:00:00 two hours east of Greenwich."""
    context = browser.new_context(
        offline=True, viewport={"width": 390, "height": 844}, timezone_id="Etc/GMT-2", has_touch=True
    )
    context.set_default_timeout(10_000)
    page = context.new_page()
    page.clock.install(time=datetime.fromisoformat("2031-07-04T08:00:00+02:00"))
    page.clock.pause_at(datetime.fromisoformat("2031-07-04T08:00:01+02:00"))
    yield page
    context.close()


def later(page, seconds: int) -> None:
    page.clock.fast_forward(1000 * seconds)


def saved_table(page) -> list[dict[str, str]]:
    with page.expect_download() as download:
        page.click("#save")
    assert download.value.suggested_filename == "rides.csv"
    text = Path(download.value.path()).read_text("utf-8")
    assert text == page.input_value("#text")
    return list(csv.DictReader(io.StringIO(text)))


def test_a_ride_with_two_watches_from_the_first_press_to_the_report(phone, tmp_path):
    """GPX files of two watches begin at 06:00:50 and 06:00:55 UTC; the phone shows local time."""
    watch = watched(phone)
    phone.goto(written(tmp_path, "moss", "sedge"))
    phone.click("#start")
    phone.locator('input[value="sedge"]').check(force=True)
    later(phone, 4)
    phone.click("#start")
    later(phone, 40)
    phone.click("#fix")
    phone.locator('input[value="moss"]').check(force=True)
    later(phone, 2)
    phone.click("#fix")
    later(phone, 1800)
    phone.click("#stop")
    rows = saved_table(phone)
    assert [(row["receiver"], row["start_pressed"], row["fix_seen"]) for row in rows] == [
        ("moss", "2031-07-04T08:00:01+02:00", "2031-07-04T08:00:47+02:00"),
        ("sedge", "2031-07-04T08:00:05+02:00", "2031-07-04T08:00:45+02:00"),
    ]
    assert rows[0]["stopped"] == "2031-07-04T08:30:47+02:00"
    assert watch.clean(), watch
    for name, first in (("moss", 50), ("sedge", 55)):
        (tmp_path / name).mkdir()
        saved(tmp_path / name, gpx(track(points(first, first + 300))), "a.gpx")
    (tmp_path / "rides.csv").write_text(phone.input_value("#text"), encoding="utf-8")
    recordings = ts.read(tmp_path)
    assert recordings.problems == ()
    fixes = {w.receiver: w.trace.first_time_s() - w.start_s for w in recordings.witnesses}
    assert fixes == {"moss": 49.0, "sedge": 50.0}
    assert {w.start_source for w in recordings.witnesses} == {"declared"}


def test_the_log_outlives_a_reload_and_a_press_can_be_taken_back(phone, tmp_path):
    phone.goto(written(tmp_path, "moss"))
    phone.click("#start")
    later(phone, 30)
    phone.click("#fix")
    phone.reload()
    assert phone.locator("#rides li").count() == 1
    assert phone.is_disabled("#fix")
    phone.click("#back")
    assert phone.inner_text("#said") == "Taken back: Fix shown, moss"
    assert phone.is_enabled("#fix")
    assert phone.is_disabled("#back")
    assert saved_table(phone)[0]["fix_seen"] == ""


def test_a_ride_that_nobody_stopped_does_not_hold_up_the_next(phone, tmp_path):
    phone.goto(written(tmp_path, "moss"))
    phone.click("#start")
    assert phone.is_disabled("#start")
    later(phone, 13 * 3600)
    phone.reload()
    phone.click("#start")
    assert [row["stopped"] for row in saved_table(phone)] == ["", ""]


def test_it_works_where_storage_is_refused_and_says_so(phone, tmp_path):
    phone.add_init_script(REFUSED)
    watch = watched(phone)
    phone.goto(written(tmp_path))
    assert "keeps nothing" in phone.inner_text("#unkept")
    assert phone.is_disabled("#start")
    assert phone.inner_text("#why") == "Add a watch first."
    phone.fill("#name", "moss")
    phone.click("#add button")
    phone.click("#start")
    assert saved_table(phone)[0]["receiver"] == "moss"
    assert watch.clean(), watch


def test_hostile_names_are_text_on_the_page_and_no_formula_in_the_table(phone, tmp_path):
    names = ["</script><script>alert(1)</script>", '=HYPERLINK("x")', "a,b"]
    watch = watched(phone)
    phone.goto(written(tmp_path, *names))
    for name in names:
        phone.get_by_label(name).first.check(force=True)
        phone.click("#start")
    rows = saved_table(phone)
    assert [row["receiver"] for row in rows] == [names[0], f"'{names[1]}", names[2]]
    assert phone.locator("#watches label").count() == 3
    assert watch.clean(), watch


def test_emptying_asks_first(phone, tmp_path):
    phone.goto(written(tmp_path, "moss"))
    phone.click("#start")
    phone.click("#empty")
    phone.click("#keep")
    assert phone.locator("#rides li").count() == 1
    phone.click("#empty")
    phone.click("#empty-now")
    assert phone.locator("#rides li").count() == 0
    assert phone.is_disabled("#save")


def test_its_first_words_say_to_stand_still_and_its_buttons_are_for_a_thumb(page, tmp_path, axe):
    """44 px is the target size of WCAG 2.2, criterion 2.5.5 (level AAA)."""
    phone = page
    phone.set_viewport_size({"width": 390, "height": 844})
    phone.goto(written(tmp_path, "moss", "sedge"))
    assert phone.inner_text("body").startswith(
        "Stand still while you press. Never use this page while riding."
    )
    for target in phone.locator("button:visible, .watches label").all():
        assert target.bounding_box()["height"] >= 44
    for name in ("start", "fix", "stop"):
        box = phone.locator(f"#{name}").bounding_box()
        assert box["height"] >= 70
        assert box["y"] + box["height"] < 844
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.click("#start")
    phone.click("#empty")
    phone.evaluate(axe)
    found = phone.evaluate("async () => (await axe.run(document)).violations")
    assert [(v["id"], [n["html"][:200] for n in v["nodes"]][:3]) for v in found] == []


def test_a_page_that_is_there_is_kept(tmp_path):
    (tmp_path / "ride-log.html").write_text("mine")
    with pytest.raises(SystemExit) as ended:
        main(["log", "--out", str(tmp_path / "ride-log.html")])
    assert ended.value.code == 2
    assert (tmp_path / "ride-log.html").read_text() == "mine"
