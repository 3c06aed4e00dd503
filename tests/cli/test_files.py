"""Named places that lie beside the traces are found by themselves, and are no recording."""

from trackspread.cli.files import places_beside
from trackspread.readers import read_files
from world import write_gpx
from world.watches import ridden


def test_places_beside_the_traces(tmp_path):
    write_gpx(ridden(1, rides=1, length_m=400.0), tmp_path)
    trace = next(tmp_path.glob("*.gpx"))
    assert places_beside([tmp_path]) is None
    (tmp_path / "places.csv").write_text(
        "name,lon,lat\nmill,69.4,-48.9\nford,69.41,-48.9\n", encoding="utf-8"
    )
    assert places_beside([tmp_path]) == places_beside([trace]) == tmp_path / "places.csv"
    read = read_files([tmp_path])
    assert {file.path.rpartition(".")[2] for file in read.files} == {"gpx"}
    assert not read.problems
