"""What a page says of files and settings."""

from __future__ import annotations

from records import make_analysis
from trackspread.report import page_notes
from trackspread.results.document import result_document

DOCUMENT = result_document(make_analysis())


def test_what_was_set_aside_is_told_with_its_reason() -> None:
    lines = page_notes.aside(DOCUMENT)
    (record,) = [r for r in DOCUMENT["inputs"] if r["status"] == "set aside"]
    assert lines[0] == f"{record['file']}: {record['reason']}."
    assert any("broken.gpx" in line for line in lines)
    assert "points set aside in traces that were used" in lines[-1]


def test_a_wait_for_the_fix_is_no_fault() -> None:
    record = DOCUMENT["inputs"][0] | {"status": "used", "points_set_aside": 10}
    wait = record | {"findings": [{"code": "no position", "count": 10}]}
    told = page_notes.aside(DOCUMENT | {"inputs": [wait], "problems": []})
    assert told == ["10 records without a position, from before a fix or after it was lost."]


def test_what_was_guessed_is_counted() -> None:
    guessed = sum(record["ride_from"] not in ("sheet", "none") for record in DOCUMENT["inputs"])
    assert f"the ride of {guessed} traces" in page_notes.inferred(DOCUMENT)
    sure = {"inputs": [r | {"receiver_from": "sheet", "ride_from": "none"} for r in DOCUMENT["inputs"]]}
    assert page_notes.inferred(sure) == ""


def test_settings_are_read_as_words_and_plain_numbers() -> None:
    assert [page_notes.setting(value) for value in (True, False, 100.0, 0.05, 3, "utm")] == [
        "yes", "no", "100", "0.05", "3", "utm",
    ]  # fmt: skip
