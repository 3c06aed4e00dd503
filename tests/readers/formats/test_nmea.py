"""NMEA 0183 against sentences that circulate with every description of it."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from corpus.blocks import gga, rmc, sentence
from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse

GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
RMC = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"


def read(text: str) -> Trace:
    (trace,), problems = parse("a.nmea", text.encode("latin-1"), True)
    assert problems == []
    return trace


def codes(trace: Trace) -> list[str]:
    return [finding.code for finding in trace.findings]


def test_the_classic_pair_of_sentences() -> None:
    """The GGA and RMC sentences of the usual NMEA 0183 tutorials: 48.1173 N, 11.516667 E, 545.4 m."""
    trace = read(GGA + RMC)
    np.testing.assert_allclose(trace.lat_deg, [48.1173], atol=5e-7)
    np.testing.assert_allclose(trace.lon_deg, [11.516667], atol=5e-7)
    assert trace.elevation_m.tolist() == [545.4]
    assert trace.time_s.tolist() == [datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC).timestamp()]
    assert trace.findings == ()


def test_other_sentences_are_passed_over() -> None:
    """GLL and GSA of the same tutorials hold no point of ours."""
    others = "$GPGLL,4250.5589,S,14718.5084,E,092204.999,A*2D\r\n"
    others += "$GPGSA,A,3,01,20,19,13,,,,,,,,,40.4,24.4,32.2*0A\r\n"
    assert len(read(others + RMC + others).lon_deg) == 1


def test_a_variant_with_blank_fields_is_valid() -> None:
    """From the documentation of an NMEA parser (docs.rs): checksum 42 holds."""
    variant = "$GPGGA,123519,4807.038,N,01131.324,E,1,08,0.9,545.4,M,46.9,M, , *42\r\n"
    np.testing.assert_allclose(read(variant).lon_deg, [11 + 31.324 / 60], atol=1e-9)


def test_a_published_line_whose_checksum_does_not_hold() -> None:
    """A help-page variant ends in 42 where exclusive-or gives 48: a ready negative test."""
    bad = "$GPGGA,121505,4807.038,N,01131.324,E,1,08,0.9,133.4,M,46.9,M, , *42\r\n"
    trace = read(bad + RMC)
    assert codes(trace) == ["bad checksum"]
    assert len(trace.lon_deg) == 1


def test_a_checksum_does_not_prove_the_number_of_fields() -> None:
    """Two commas cancel out under exclusive-or: 47 holds for the tutorial's line without them too."""
    np.testing.assert_allclose(read(GGA.replace(",M,,*", ",M*")).lat_deg, [48.1173], atol=5e-7)
    trace = read(sentence("GPGGA,123519,4807.038,N") + RMC)
    assert codes(trace) == ["bad sentence"]


@pytest.mark.parametrize(("quality", "is_fix"), [(str(q), 1 <= q <= 5) for q in range(9)])
def test_quality_of_gga(quality: str, is_fix: bool) -> None:
    """0 invalid, 1 GPS, 2 DGPS, 3 PPS, 4 RTK, 5 float RTK, 6 estimated, 7 manual, 8 simulator."""
    place = "7509.0000,N,08718.0000,W"
    text = rmc(0) + sentence(f"GPGGA,060001.00,{place},{quality},08,0.9,45.4,M,46.9,M,,")
    trace = read(text)
    assert len(trace.lon_deg) == (2 if is_fix else 1)
    assert codes(trace) == ([] if is_fix else ["no fix"])


def test_moments_without_a_fix_give_the_start() -> None:
    text = "".join(gga(i, quality="0") + rmc(i, status="V") for i in range(38))
    text += "".join(gga(i) + rmc(i) for i in range(38, 60))
    trace = read(text)
    assert trace.time_s[0] - trace.start_s == 38.0
    assert len(trace.lon_deg) == 22


def test_a_fix_at_once_gives_no_start() -> None:
    assert np.isnan(read("".join(rmc(i) for i in range(5))).start_s)


def test_a_loss_of_fix_on_the_way_gives_no_start() -> None:
    trace = read(rmc(0) + rmc(1, status="V") + rmc(2))
    assert np.isnan(trace.start_s)
    assert codes(trace) == ["no fix"]


def test_mode_of_rmc_since_2_3_can_say_estimated() -> None:
    assert len(read(rmc(0) + rmc(1, mode="E") + rmc(2, mode="D")).lon_deg) == 2


def test_midnight_moves_the_day_on() -> None:
    first = sentence("GPRMC,235958.00,A,7509.0000,N,08718.0000,W,10.0,084.4,311230,,,A")
    later = [sentence(f"GPGGA,{c},7509.00{i}0,N,08718.0000,W,1,08,0.9,1.0,M,1.0,M,,") for i, c in
             enumerate(["235959.00", "000000.00", "000001.00"], 1)]  # fmt: skip
    trace = read(first + "".join(later))
    assert np.diff(trace.time_s).tolist() == [1.0, 1.0, 1.0]
    assert trace.time_s[-1] == datetime(2031, 1, 1, 0, 0, 1, tzinfo=UTC).timestamp()


def test_a_day_that_is_said_late_counts_backwards_too() -> None:
    early = [sentence(f"GPGGA,{c},7509.0000,N,08718.00{i}0,W,1,08,0.9,1.0,M,1.0,M,,") for i, c in
             enumerate(["235958.00", "235959.00"])]  # fmt: skip
    late = sentence("GPRMC,000000.00,A,7509.0000,N,08718.0900,W,10.0,084.4,010131,,,A")
    trace = read("".join(early) + late)
    assert np.diff(trace.time_s).tolist() == [1.0, 1.0]


def test_no_date_means_no_times() -> None:
    trace = read("".join(gga(i) for i in range(5)))
    assert np.isnan(trace.time_s).all()
    assert codes(trace) == ["no date"]


def test_a_log_that_never_had_a_fix_is_refused() -> None:
    with pytest.raises(UnreadableFile, match="no GGA or RMC sentence with a fix"):
        parse("a.nmea", "".join(gga(i, quality="0") for i in range(9)).encode(), True)


def test_hemispheres() -> None:
    south = sentence("GPRMC,060000.00,A,4250.5589,S,14718.5084,W,0.0,0.0,040731,,,A")
    trace = read(south)
    np.testing.assert_allclose([trace.lat_deg[0], trace.lon_deg[0]], [-42.8426483, -147.3084733], atol=1e-7)


def test_claims_of_accuracy() -> None:
    """NMEA 0183 GST: fields 6 and 7 are the standard deviations of latitude and longitude, metres."""
    gst = sentence("GPGST,060000.00,1.5,4.0,3.0,45.0,3.0,4.0,7.0")
    log = gga(0) + gst + rmc(0) + gga(1) + rmc(1)
    assert "060000" in gga(0)
    (trace,), _ = parse("a.nmea", log.encode(), True)
    np.testing.assert_equal(trace.claims.accuracy_m, [5.0, np.nan])
    assert np.isfinite(trace.claims.hdop).all()
