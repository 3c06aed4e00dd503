"""The drop command with --keep: a session that stays in a folder of the user's, and touches no other."""

from __future__ import annotations

from web_client import drop_demo, ended


def test_keep_leaves_all_in_the_named_folder(command, tmp_path):
    kept = tmp_path / "new" / "session"
    process, client, place = command("--keep", kept)
    drop_demo(client, "out_1*.gpx")
    assert client.ask("GET", "/state").json()["kept"] is True
    client.ask("POST", "/end")
    assert str(kept) in ended(process)
    assert sorted(p.name for p in (kept / "traces/demo").iterdir()) == [
        "out_1_saxifrage.gpx",
        "out_1_sedge.gpx",
    ]
    assert kept.stat().st_mode & 0o777 == 0o700
    assert list(place.iterdir()) == []


def test_keep_does_not_touch_a_folder_in_use(command, tmp_path):
    theirs = tmp_path / "theirs"
    theirs.mkdir()
    (theirs / "thesis.txt").write_text("mine")
    process, client, _ = command("--keep", theirs)
    assert client is None
    _, err = process.communicate(timeout=30)
    assert process.returncode == 2
    assert "a new or an empty folder is needed" in err
    assert "Traceback" not in err
    assert [p.name for p in theirs.iterdir()] == ["thesis.txt"]
