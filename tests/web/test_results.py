"""Only what the analysis wrote is handed out, each file under a policy that fits it."""

from __future__ import annotations

import zipfile

import pytest

from trackspread.web.results import ZIP_NAME, _declared_policy, pack

PAGE = """<!doctype html><html><head><meta charset="utf-8">
<meta http-equiv="content-security-policy" content="default-src 'none'; script-src 'sha256-abc='">
<title>x</title><meta http-equiv="Content-Security-Policy" content="script-src *"></head><body>%s</body>"""


@pytest.fixture
def written(tmp_path):
    folder = tmp_path / "result"
    (folder / "tables").mkdir(parents=True)
    files = {"report.html": PAGE % "", "result.json": "{}", "tables/traces.csv": "a,b\n"}
    for name, text in files.items():
        (folder / name).write_text(text)
    (folder / "secret.txt").write_text("not written by the analysis")
    return folder, [folder / name for name in files]


def test_list_is_what_was_written_and_the_archive_of_it(written):
    folder, files = written
    results = pack(folder, [*files, folder / "tables"])
    assert results.names == ("report.html", "result.json", "tables/traces.csv", ZIP_NAME)
    with zipfile.ZipFile(folder / ZIP_NAME) as archive:
        assert archive.testzip() is None
        inside = {name.removeprefix("trackspread-result/"): archive.read(name) for name in archive.namelist()}
    assert inside == {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


@pytest.mark.parametrize(
    "name",
    ["secret.txt", "", ".", "..", "../rides.csv", "tables", "tables/", "tables/../report.html", "/etc/passwd",
     "report.html/", "REPORT.HTML", "report.html\0", "./report.html", "tables\\traces.csv"],
)  # fmt: skip
def test_nothing_else_is_handed_out(written, name):
    folder, files = written
    results = pack(folder, files)
    assert results.answer(name, save=False) is None
    assert results.answer(name, save=True) is None


def test_pictures_are_shown_and_can_do_nothing(tmp_path):
    picture = tmp_path / "still.png"
    picture.write_bytes(b"<script>alert(1)</script>")
    results = pack(tmp_path, [picture])
    shown = results.answer("still.png", save=False)
    assert shown.headers["content-type"] == "image/png"
    assert shown.headers["content-disposition"].startswith("inline")
    policy = shown.headers["content-security-policy"]
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'"
    assert results.answer("still.png", save=True).headers["content-disposition"].startswith("attachment")


def test_pages_open_under_their_own_policy_and_the_rest_is_only_saved(written):
    folder, files = written
    results = pack(folder, files)
    page = results.answer("report.html", save=False)
    assert page.headers["content-security-policy"] == (
        "default-src 'none'; script-src 'sha256-abc='; "
        "sandbox allow-scripts allow-downloads allow-modals; frame-ancestors 'none'"
    )
    assert page.headers["content-type"].startswith("text/html")
    for name, save in [("report.html", True), ("result.json", False), ("tables/traces.csv", False)]:
        answer = results.answer(name, save=save)
        assert answer.headers["content-disposition"].startswith("attachment")
        assert answer.headers["content-type"] == "application/octet-stream"
        assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("head", ["", "<script>/*", "<style>", "<body>"])
def test_page_whose_policy_does_not_stand_first_runs_nothing(tmp_path, head):
    late = '<meta http-equiv="Content-Security-Policy" content="script-src *">' if head else ""
    page = tmp_path / "report.html"
    page.write_text(f"<html><head>{head}{late}")
    assert _declared_policy(page) == ""
    answer = pack(tmp_path, [page]).answer("report.html", save=False)
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox; frame-ancestors 'none'"


def test_raw_paths_reach_no_file_outside(client):
    (client.folder / "rides.csv").write_text("secret")
    results = ["../rides.csv", "%2e%2e/rides.csv", "/etc/passwd", "..%5crides.csv"]
    parts = ["../session.py", "%2e%2e%2fsession.py", "drop.html"]
    for path in [
        *(f"/result/{name}" for name in results),
        *(f"/page/{name}" for name in parts),
        "/../rides.csv",
    ]:
        answer = client.ask("GET", path)
        assert answer.status == 404, path
        assert b"secret" not in answer.body
