"""Make the demo routes again: a warden's ride between two huts, five times each way, two receivers.

Usage: python demo_routes/make_demo.py [FOLDER]          (default: the folder of this file)
       python demo_routes/make_demo.py FOLDER fit        (or tcx, gpx: all rides in one format)

The morning rides are GPX, as a program exports them; those of the evening are the watches' own files, FIT
and TCX. Needs numpy and the library fit-tool. The world it draws from is the one the tests use
(tests/world), with a fixed seed: the
files come out the same to the byte. What is true of the rides is written beside them, in truth.json.
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import numpy as np

from world import Fault, Globe, Receiver, Recording, World, simulate
from world.activity_files import fit_bytes, tcx_text
from world.files import gpx_text, utc
from world.routes import rounded

SEDGE = Receiver(name="sedge", sigma_m=1.6)
SAXIFRAGE = Receiver(name="saxifrage", sigma_m=2.6)
PLATEAU = Globe(lon_deg=-87.3, lat_deg=75.15)
MORNING_S, EVENING_S = 1_940_911_200.0, 1_940_943_600.0  # 2031-07-04, 06:00 and 15:00 UTC

KINDS = {"out": {"sedge": "gpx", "saxifrage": "gpx"}, "back": {"sedge": "fit", "saxifrage": "tcx"}}

# The track from the upper hut to the lower hut: corners (east, north, radius), metres.
TRACK = np.array(
    [
        (0, 0, 0), (240, 60, 60), (430, -40, 50), (700, 30, 90), (905, 210, 40), (1120, 190, 60),
        (1290, 320, 25), (1330, 450, 15), (1440, 470, 12), (1460, 590, 15), (1600, 640, 30),
        (1850, 600, 80), (2060, 700, 6), (2010, 820, 6), (2160, 900, 40), (2480, 930, 120),
        (2800, 830, 150), (3060, 860, 60), (3210, 1010, 8), (3330, 960, 8), (3420, 1080, 30), (3700, 1130, 0),
    ],
    dtype=float,
)  # fmt: skip
GORGE_M, GATE_M = (1450.0, 1850.0), 2300.0


def out() -> World:
    """The morning rides: a late first fix, one receiver astray, a drift of snow to ride around."""
    return simulate(
        rounded(TRACK[:, :2], TRACK[:, 2]),
        seed=20310704,
        rides=5,
        receivers=(SEDGE, SAXIFRAGE),
        common_share=0.3,
        faults=(
            *_gorge(*GORGE_M),
            Fault(kind="late", ride=2, receiver="sedge", seconds=95),
            Fault(kind="stretch", ride=1, receiver="saxifrage", from_m=3150, to_m=3390, offset_m=22),
            Fault(kind="detour", ride=3, from_m=2700, to_m=2920, offset_m=-32),
        ),
        start_known=(True, True, True, True, False),
        lights=(GATE_M,),
        globe=PLATEAU,
        first_start_s=MORNING_S,
        file_names="out_{ride}_{receiver}.gpx",
    )


def back() -> World:
    """The evening rides, the same track the other way: a start that settles slowly, and a gap."""
    route = rounded(TRACK[:, :2], TRACK[:, 2]).reversed()
    return simulate(
        route,
        seed=20310705,
        rides=5,
        receivers=(SEDGE, SAXIFRAGE),
        common_share=0.3,
        faults=(
            *_gorge(route.length_m - GORGE_M[1], route.length_m - GORGE_M[0]),
            Fault(kind="settling", ride=0, receiver="sedge", offset_m=42, seconds=50),
            Fault(kind="gap", ride=1, receiver="saxifrage", from_m=1000, to_m=1190),
        ),
        start_known=(True, True, False, True, True),
        lights=(route.length_m - GATE_M,),
        globe=PLATEAU,
        first_start_s=EVENING_S,
        file_names="back_{ride}_{receiver}.gpx",
    )


def _gorge(from_m: float, to_m: float) -> tuple[Fault, Fault]:
    """Walls of rock on both sides: both receivers are torn, one more than the other."""
    walls = {"kind": "torn", "from_m": from_m, "to_m": to_m, "ramp_m": 60.0}
    return (
        Fault(receiver="sedge", offset_m=5.0, **walls),  # type: ignore[arg-type]
        Fault(receiver="saxifrage", offset_m=9.0, **walls),  # type: ignore[arg-type]
    )


def truth_of(world: World, name: str) -> dict[str, object]:
    """Return all that is true of one way, ready for JSON."""
    station, lon, lat = world.centreline()
    return {
        "route": name,
        "length_m": round(world.route.length_m, 2),
        "gate_m": round(world.lights_m[0], 1),
        "line_sd_m": world.line_sd_m,
        "sigma_m": {receiver.name: receiver.sigma_m for receiver in (SEDGE, SAXIFRAGE)},
        "faults": [
            {
                "kind": fault.kind, "ride": fault.ride + 1 if fault.ride >= 0 else "every",
                "receiver": fault.receiver or "both", "from_m": round(fault.from_m, 1),
                "to_m": round(fault.to_m, 1), "offset_m": fault.offset_m, "seconds": fault.seconds,
            }
            for fault in world.faults
        ],
        "recordings": [
            {
                "file": file_name(r), "receiver": r.receiver.name, "ride": ride_name(r),
                "start": utc(r.start_s), "start_from": start_from(r), "first_fix_s": round(r.first_fix_s, 3),
                "settled_within_5_m_for_30_s_s": round(r.settled_s(5.0, 30.0), 3),
            }
            for r in world.recordings
        ],
        "centreline_station_lon_lat": [
            [round(s, 1), round(x, 7), round(y, 7)]
            for s, x, y in zip(station[::10].tolist(), lon[::10].tolist(), lat[::10].tolist(), strict=True)
        ],
    }  # fmt: skip


def ride_name(recording: Recording) -> str:
    """Return the ride as the sheet names it: ``out 3``."""
    return f"{recording.file.split('_')[0]} {recording.ride + 1}"


def file_name(recording: Recording, kind: str = "") -> str:
    """Return the name of a recording's file, with the ending of its format."""
    way = recording.file.split("_")[0]
    return f"{Path(recording.file).stem}.{kind or KINDS[way][recording.receiver.name]}"


def start_from(recording: Recording) -> str:
    """Return who says when start was pressed: the file's own timer, the table of rides, or nobody."""
    if not file_name(recording).endswith(".gpx"):
        return "timer"
    return "declared" if recording.start_known else "none"


def main(folder: Path, kind: str = "") -> None:
    """Write all recordings; with them rides.csv and truth.json, unless one ``kind`` is asked for."""
    ways = {"out": out(), "back": back()}
    recordings = [r for world in ways.values() for r in world.recordings]
    folder.mkdir(parents=True, exist_ok=True)
    for recording in recordings:
        file = folder / file_name(recording, kind)
        file.write_bytes(data_of(recording, file.suffix))
    if kind:
        return
    with (folder / "rides.csv").open("w", newline="", encoding="utf-8") as sheet:
        rows = csv.writer(sheet, lineterminator="\n")
        rows.writerow(["file", "receiver", "ride", "start_pressed", "note"])
        for r in recordings:
            start = utc(r.start_s) if start_from(r) == "declared" else ""
            rows.writerow([file_name(r), r.receiver.name, ride_name(r), start, ""])
    truth = [truth_of(world, name) for name, world in ways.items()]
    (folder / "truth.json").write_bytes((json.dumps(truth, indent=1, ensure_ascii=False) + "\n").encode())


def data_of(recording: Recording, suffix: str) -> bytes:
    """Return the content of a file."""
    if suffix == ".fit":
        return fit_bytes(recording)
    return (tcx_text(recording) if suffix == ".tcx" else gpx_text(recording)).encode()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent, "".join(sys.argv[2:3]))
