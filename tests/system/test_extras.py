"""Without an optional library: one line that says what to install into the copy that runs, and exit code 2."""

from __future__ import annotations

import subprocess
import sys

import pytest

from trackspread.system.extras import how_to_get, is_there

CODE = """
import sys
sys.modules.update(dict.fromkeys({missing!r}))
from trackspread.cli import main
main({arguments!r})
"""


def test_what_is_there_is_known():
    assert is_there("numpy")
    assert not is_there("no_such_library_anywhere")


@pytest.mark.parametrize(
    ("library", "arguments"),
    [
        ("matplotlib", ["film", "RESULT"]),
        ("distributed", ["archive", "RESULT", "--out", "NEW", "--scheduler", "tcp://127.0.0.1:1"]),
    ],
)
def test_without_it_one_line_says_what_to_install(tmp_path, library, arguments):
    (tmp_path / "result" / "route").mkdir(parents=True)
    (tmp_path / "result" / "route" / "a.gpx").touch()
    here = {"RESULT": str(tmp_path / "result"), "NEW": str(tmp_path / "new")}
    given = [here.get(each, each.replace("NEW", here["NEW"])) for each in arguments]
    code = CODE.format(missing=[library], arguments=given)
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert run.returncode == 2, run.stderr
    assert how_to_get(library) in run.stderr
    assert run.stderr.count("\n") == 1
    assert not list(tmp_path.glob("new*"))


def test_reading_analysing_and_reporting_need_no_drawing_library():
    code = (
        "import sys; sys.modules['matplotlib'] = None; sys.modules['pyarrow'] = None\n"
        "import trackspread.api, trackspread.pipeline.analyse, trackspread.report.page, trackspread.web.session\n"
        "import trackspread.report.write, trackspread.results.layers, trackspread.compare.page\n"
        "import trackspread.archive.index, trackspread.planning.table"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
