"""One type of progress for everything that takes long."""

from trackspread.archive import run
from trackspread.pipeline import analyse
from trackspread.readers import read
from trackspread.report import write
from trackspread.system.progress import Progress


def test_all_long_runs_tell_their_progress_alike() -> None:
    assert [room.Progress for room in (analyse, read, run, write)] == [Progress] * 4
