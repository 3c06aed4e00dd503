"""Real files below a private folder: names without it, tables of rides kept, corrections on top."""

from __future__ import annotations

import csv
import zipfile
from datetime import UTC, datetime

import pytest

from trackspread.web.reading import assigned, read_folder
from world import Receiver, simulate
from world.files import gpx_text


@pytest.fixture
def folder(tmp_path):
    """Two receivers on two rides: one folder a receiver, the last trace in an archive, one file broken."""
    traces = tmp_path / "private-folder" / "traces"
    receivers = [Receiver(name="Alder"), Receiver(name="Birch")]
    for recording in simulate(seed=3, receivers=receivers, rides=2, length_m=800).recordings:
        place = traces / recording.receiver.name
        place.mkdir(parents=True, exist_ok=True)
        (place / f"ride {recording.ride + 1}.gpx").write_text(gpx_text(recording))
    last = traces / "Birch" / "ride 2.gpx"
    with zipfile.ZipFile(traces / "Birch" / "more.zip", "w") as archive:
        archive.write(last, "ride 2.gpx")
    last.unlink()
    (traces / "broken.gpx").write_text("no trace")
    return traces


FILES = ["Alder/ride 1.gpx", "Alder/ride 2.gpx", "Birch/more.zip/ride 2.gpx", "Birch/ride 1.gpx"]


def by_file(reading):
    return {witness.trace.file: witness for witness in reading.witnesses}


def test_names_begin_below_the_private_folder(folder):
    (folder / "Alder" / "rides.csv").write_text("file,receiver\nnowhere.gpx,X\n")
    reading = read_folder(folder, {})
    assert sorted(by_file(reading)) == FILES
    assert [problem.file for problem in reading.problems] == ["broken.gpx", "Alder/rides.csv"]
    assert "private-folder" not in repr((reading.witnesses, reading.problems, reading.stated))
    assert [key for key, _ in reading.keyed()] == [witness.trace.file for witness in reading.witnesses]
    assert not (folder.parent / "rides.csv").exists(), "nothing was corrected"


def test_correction_stands_over_what_was_stated_and_that_over_what_is_inferred(folder):
    (folder / "Alder" / "rides.csv").write_text(
        "file,receiver,ride,start_pressed,note\nride 1.gpx,Stated,morning,,dry\nride 2.gpx,Stated too,,,\n"
    )
    first = read_folder(folder, {})
    before = by_file(first)
    assert (before[FILES[0]].receiver, before[FILES[0]].receiver_from) == ("Stated", "sheet")
    edits = {FILES[0]: {"receiver": "Elder"}, FILES[1]: {"receiver": ""}, FILES[2]: {"note": "=1+1"}}
    after = by_file(assigned(folder, first.read, edits))
    assert (after[FILES[0]].receiver, after[FILES[0]].receiver_from) == ("Elder", "sheet")
    assert (after[FILES[0]].ride, after[FILES[0]].note) == ("morning", "dry")
    assert after[FILES[1]].receiver_from == "folder"
    assert after[FILES[2]].note == "=1+1"
    with (folder.parent / "rides.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["file"] for row in rows] == [f"traces/{name}" for name in FILES]
    assert rows[2]["note"] == "'=1+1", "no formula for a spreadsheet"


def test_sheet_alone_gives_the_same_answers_to_the_api(folder):
    """What --keep leaves behind can be analysed again: rides.csv beside traces says all."""
    from trackspread.readers import read_files
    from trackspread.rides.assign import assign_witnesses
    from trackspread.rides.sheet.table import read_sheets

    reading = assigned(
        folder, read_folder(folder, {}).read, {FILES[3]: {"receiver": "Elder", "ride": "first"}}
    )
    again = read_files([folder])
    sheet = read_sheets(again, folder.parent / "rides.csv")
    witnesses, doubts = assign_witnesses(again, sheet)
    assert sheet.problems == doubts == ()
    assert [(w.receiver, w.ride) for w in witnesses] == [(w.receiver, w.ride) for w in reading.witnesses]


def test_each_trace_of_one_file_has_a_row_of_its_own(folder):
    both = folder / "both.gpx"
    one, other = ((folder / name).read_text() for name in FILES[:2])
    both.write_text(one.replace("</gpx>", other[other.index("<trk>") :]))
    read = read_folder(folder, {}).read
    reading = assigned(folder, read, {"both.gpx#2": {"receiver": "Elder"}})
    assert [key for key, _ in reading.keyed() if "both" in key] == ["both.gpx#1", "both.gpx#2"]
    found = {key: (witness.receiver, witness.receiver_from) for key, witness in reading.keyed()}
    assert found["both.gpx#2"] == ("Elder", "sheet")
    assert found["both.gpx#1"][1] != "sheet"


def test_withdrawn_corrections_leave_no_sheet(folder):
    read = read_folder(folder, {}).read
    assigned(folder, read, {FILES[0]: {"receiver": "Elder"}})
    assert by_file(assigned(folder, read, {}))[FILES[0]].receiver_from == "folder"
    assert not (folder.parent / "rides.csv").exists()


def test_wrong_start_is_told_at_its_file(folder):
    read = read_folder(folder, {}).read
    reading = assigned(folder, read, {FILES[2]: {"start_pressed": "half past six"}})
    ((key, rule),) = reading.wrong.items()
    assert key == (FILES[2], "start_pressed")
    assert "must be a time" in rule
    assert reading.doubts[0].file == "rides.csv"
    assert by_file(reading)[FILES[2]].start_source == "none"


def test_a_correction_keeps_what_the_table_and_a_ride_log_say(folder):
    """Nothing but the corrected cell changes: firmware, fix and a row without a file are kept."""
    first = read_folder(folder, {}).witnesses[0].trace.first_time_s()
    pressed, seen = (datetime.fromtimestamp(first - wait, UTC).isoformat() for wait in (40.0, 2.0))
    watch = by_file(read_folder(folder, {}))[FILES[0]].receiver
    (folder / "rides.csv").write_text(
        f"file,receiver,start_pressed,fix_seen,firmware,colour,route,Stopped\n"
        f",{watch},{pressed},{seen},7.2,wine,Lane,late\n"
    )
    read = read_folder(folder, {})
    assert read.doubts == ()
    (key,) = [key for key, cells in read.stated.items() if cells["fix_seen"]]
    corrected = assigned(folder, read.read, {key: {"note": "wet"}})
    cells = corrected.stated[key]
    assert (cells["fix_seen"], cells["firmware"], cells["note"]) == (seen, "7.2", "wet")
    assert (cells["colour"], cells["route"], cells["Stopped"]) == ("wine", "Lane", "late")
    witness = by_file(corrected)[key]
    assert (witness.colour, witness.route, witness.other) == ("wine", "Lane", (("Stopped", "late"),))
    assert by_file(corrected)[key].start_s == pytest.approx(first - 40.0, abs=1.0)
