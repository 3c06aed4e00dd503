"""The table of rides: which file a row speaks of, when start was pressed, and what is said of bad rows."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.blocks import GOOD, gpx, points, saved, track, zipped
from trackspread.errors import UnreadableFile
from trackspread.readers import ReadResult, read_files
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.sheet.table import Sheet, read_sheets
from trackspread.system.spreadsheet import guarded, unguarded

HEAD = "file,receiver,ride,start_pressed,note\n"
FIRST_S = 1_940_911_200.0  # 2031-07-04T06:00:00Z


def sheet_of(folder: Path, text: str | bytes, **files: str) -> tuple[ReadResult, Sheet]:
    saved(folder, text, "rides.csv")
    for name, content in (files or {"a": GOOD}).items():
        path = folder / f"{name.replace('__', '/')}.gpx"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content)
    read = read_files([folder])
    return read, read_sheets(read)


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "a.gpx,sedge,out 1,,wet\n",
        "\ufeff" + HEAD + "a.gpx,sedge,out 1,,wet\n",
        (HEAD + "a.gpx,sedge,out 1,,wet\n").replace(",", ";"),
        (HEAD + "a.gpx,sedge,out 1,,wet\n").replace(",", "\t").replace("\n", "\r\n"),
        "Note, Ride ,RECEIVER,mood,file\nwet,out 1,sedge,good,./a.gpx\n",
        (HEAD + "a.gpx,sedge,out 1,,wet\n").encode("utf-16"),
    ],
)
def test_common_forms_of_tables(tmp_path: Path, text: str | bytes) -> None:
    read, sheet = sheet_of(tmp_path, text)
    (witness,), problems = assign_witnesses(read, sheet)
    assert (witness.receiver, witness.ride, witness.note) == ("sedge", "out 1", "wet")
    assert (witness.receiver_from, witness.ride_from) == ("sheet", "sheet")
    assert (sheet.problems, problems) == ((), ())


def test_unknown_columns_are_kept(tmp_path: Path) -> None:
    _, sheet = sheet_of(tmp_path, "file,mood,tyres\na.gpx,good,28\n")
    (row,) = sheet.rows.values()
    assert row.other == (("mood", "good"), ("tyres", "28"))


def test_rows_find_files_by_path_and_by_bare_name(tmp_path: Path) -> None:
    text = HEAD + "moss/a.gpx,m,,,\nb.gpx,b,,,\nsedge\\a.gpx,s,,,\n"
    read, sheet = sheet_of(tmp_path, text, moss__a=GOOD, sedge__a=GOOD, sedge__deep__b=GOOD)
    assert sheet.problems == ()
    witnesses, _ = assign_witnesses(read, sheet)
    assert [w.receiver for w in witnesses] == ["m", "s", "b"]


def test_rows_that_speak_of_nothing_or_of_several_are_told_by_line(tmp_path: Path) -> None:
    text = HEAD + "c.gpx,,,,\na.gpx,x,,,\n,y,,,\nb.gpx,1,,,\nb.gpx,2,,,\n"
    _, sheet = sheet_of(tmp_path, text, moss__a=GOOD, sedge__a=GOOD, b=GOOD)
    assert [(p.place, p.rule) for p in sheet.problems] == [
        ("line 2", "no file of this name was read"), ("line 3", "2 files have this name"),
        ("line 4", "the cell file is empty"), ("line 6", "this file has a row already; the first one counts"),
    ]  # fmt: skip


def test_a_file_that_lies_there_but_was_not_named_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "rides").mkdir()
    saved(tmp_path, GOOD, "outside.gpx")
    rows = "b.gpx,,,,\nb.gpx#1,,,,\nmoss/c.gpx,,,,\nd.gpx,,,,\n../outside.gpx,,,,\n"
    sheet_of(tmp_path / "rides", HEAD + "a.gpx,sedge,,,\n" + rows, a=GOOD, b=GOOD, moss__c=GOOD)
    there, gone = "this file is there, but was not among those to read", "no file of this name was read"
    for place in (tmp_path, tmp_path / "rides"):
        monkeypatch.chdir(place)
        sheet = read_sheets(read_files([os.path.relpath(tmp_path / "rides" / "a.gpx")]))
        assert [p.rule for p in sheet.problems] == [there, there, there, gone, gone]
        assert str(sheet.problems[0]).endswith("; name it too, or its folder, or take the row out")


def test_a_row_of_a_file_that_cannot_be_read_is_no_problem_of_the_table(tmp_path: Path) -> None:
    _, sheet = sheet_of(tmp_path, HEAD + "a.gpx,,,,\n", a="<html/>")
    assert sheet.problems == ()


def test_the_nearer_table_counts(tmp_path: Path) -> None:
    (tmp_path / "moss").mkdir()
    saved(tmp_path / "moss", HEAD + "a.gpx,near,,,\n", "rides.csv")
    read, sheet = sheet_of(tmp_path, HEAD + "moss/a.gpx,far,,,\nb.gpx,b,,,\n", moss__a=GOOD, b=GOOD)
    witnesses, _ = assign_witnesses(read, sheet)
    assert sorted(w.receiver for w in witnesses) == ["b", "near"]


def test_a_table_beside_files_named_one_by_one_and_inside_an_archive(tmp_path: Path) -> None:
    sheet_of(tmp_path, HEAD + "a.gpx,sedge,,,\n")
    archive = zipped(tmp_path, {"in/rides.csv": HEAD + "a.gpx,moss,,,\n", "in/a.gpx": GOOD})
    for path, receiver in ((tmp_path / "a.gpx", "sedge"), (archive, "moss")):
        read = read_files([path])
        ((witness,), _) = assign_witnesses(read, read_sheets(read))
        assert (witness.receiver, witness.receiver_from) == (receiver, "sheet")


def test_a_table_named_by_the_user_takes_the_place_of_others(tmp_path: Path) -> None:
    read, _ = sheet_of(tmp_path, HEAD + "a.gpx,found,,,\n")
    (tmp_path / "else").mkdir()
    named = saved(tmp_path / "else", HEAD + "a.gpx,named,,,\n", "my rides.csv")
    ((witness,), _) = assign_witnesses(read, read_sheets(read, named))
    assert witness.receiver == "named"
    with pytest.raises(UnreadableFile, match="the table of rides cannot be read"):
        read_sheets(read, tmp_path / "nowhere.csv")


def test_a_number_speaks_of_one_trace_of_a_file(tmp_path: Path) -> None:
    two = gpx(track(points(0, 10)) + track(points(20, 30)))
    read, sheet = sheet_of(tmp_path, HEAD + "a.gpx#2,moss,,,\na.gpx,sedge,,,\na.gpx#3,,,,\n", a=two)
    witnesses, _ = assign_witnesses(read, sheet)
    assert [w.receiver for w in witnesses] == ["sedge", "moss"]
    assert [p.rule for p in sheet.problems] == ["the file has 2 usable traces"]


@pytest.mark.parametrize(
    "text",
    [b"", b"\x00\x01\x02", b"a,b\n1,2\n", b'file,"x\n', b"file\n" + b'"' + b"x" * 200_000, b"\xff\xfe\x00"],
)
def test_tables_that_are_none(tmp_path: Path, text: bytes) -> None:
    read, sheet = sheet_of(tmp_path, text)
    assert sheet.rows == {}
    assert all("\n" not in str(problem) for problem in sheet.problems)
    assert len(assign_witnesses(read, sheet)[0]) == 1


def test_names_that_differ_in_capitals_or_spaces_only_are_told_once_each(tmp_path: Path) -> None:
    """One receiver typed in two ways counts as two, and no pair comes of it: nobody sees that by itself."""
    lines = ("a.gpx,Möwe Süß,Out 1", "b.gpx,möwe  süss,out 1", "c.gpx,möwe  süss,Out 2", "d.gpx,birch,Out 2")
    read, sheet = sheet_of(
        tmp_path, HEAD + "".join(f"{line},,\n" for line in lines), a=GOOD, b=GOOD, c=GOOD, d=GOOD
    )
    _, problems = assign_witnesses(read, sheet)
    assert [(p.place, p.value) for p in problems] == [("line 3", "möwe  süss"), ("line 3", "out 1")]
    assert problems[0].rule == "another line writes this watch 'Möwe Süß', and they count as two"


# --- when start was pressed --------------------------------------------------------------------------


def test_a_bad_start_is_told_by_line_and_not_used(tmp_path: Path) -> None:
    read, sheet = sheet_of(tmp_path, HEAD + "a.gpx,,,06:30:00,\n")
    ((witness,), (problem,)) = assign_witnesses(read, sheet)
    assert witness.start_source == "none"
    assert (problem.file, problem.place, problem.value) == (
        sheet.rows[read.files[0].name].sheet,
        "line 2",
        "06:30:00",
    )


def test_a_declared_start_goes_before_that_of_the_file(tmp_path: Path) -> None:
    text = gpx("<metadata><time>2031-07-04T05:59:00Z</time></metadata>" + track(points(0, 10)))
    read, sheet = sheet_of(tmp_path, HEAD + "a.gpx,,,05:59:30,\n", a=text)
    ((declared,), _) = assign_witnesses(read, sheet)
    ((own,), _) = assign_witnesses(read, Sheet())
    assert (FIRST_S - declared.start_s, declared.start_source) == (30.0, "declared")
    assert (FIRST_S - own.start_s, own.start_source) == (60.0, "file")


def test_one_row_starts_one_trace_of_a_file(tmp_path: Path) -> None:
    two = gpx(track(points(0, 10)) + track(points(20, 30)))
    read, sheet = sheet_of(tmp_path, HEAD + "a.gpx,,,05:59:30,\n", a=two)
    witnesses, problems = assign_witnesses(read, sheet)
    assert [w.start_source for w in witnesses] == ["declared", "none"]
    assert problems == ()


@settings(deadline=None)
@given(st.text())
def test_guarded_cells_come_back(text: str) -> None:
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    if not text.startswith("'"):
        assert unguarded(guarded(text)) == text


@settings(deadline=None)
@given(st.lists(st.lists(st.text(max_size=20), max_size=6), max_size=6), st.sampled_from(",;\t"))
def test_any_table_gives_rows_and_problems(
    tmp_path_factory: pytest.TempPathFactory, cells: list[list[str]], by: str
) -> None:
    folder = tmp_path_factory.mktemp("any")
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=by).writerows([["file", "receiver", "start_pressed"], *cells])
    read, sheet = sheet_of(folder, text.getvalue().encode("utf-8", "replace"))
    witnesses, problems = assign_witnesses(read, sheet)
    assert len(witnesses) == 1
    assert all("\n" not in str(problem) for problem in (*sheet.problems, *problems))
