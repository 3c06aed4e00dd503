"""tables/*.csv: read back with the csv module of Python (RFC 4180) and pandas, guarded against formulas."""

import csv
import io
from dataclasses import replace

import numpy as np
import pandas as pd

from records import fuller, make_analysis
from trackspread.results.csv import csv_files
from trackspread.results.document import result_document
from trackspread.results.tables import comparison_tables, inputs_table, route_tables

NAMES = {
    f"{name}.csv"
    for name in (
        "inputs", "traces", "segments", "stretches", "receivers", "pairs", "stations", "film", "fixes", "events",
        "variants", "references", "segment_receivers", "watches", "differences",
    )
}  # fmt: skip


def files_of(analysis):
    return csv_files(analysis, result_document(analysis))


def test_all_tables_are_there_and_rectangular():
    for analysis in (
        make_analysis(),
        make_analysis(pairs=False, traces=3),
        fuller(make_analysis(hostile=True)),
    ):
        files = files_of(analysis)
        assert set(files) - {"claims.csv"} == NAMES
        for name, content in files.items():
            rows = list(csv.reader(io.StringIO(content, newline="")))
            assert len({len(row) for row in rows}) == 1, name
            assert len(set(rows[0])) == len(rows[0]), name


def test_routes_of_different_size_share_a_stations_file():
    small, large = make_analysis(traces=2, routes=1), make_analysis(traces=6, routes=1)
    mixed = make_analysis()
    object.__setattr__(mixed, "routes", (small.routes[0], large.routes[0]))
    rows = list(csv.reader(io.StringIO(files_of(mixed)["stations.csv"], newline="")))
    assert rows[0][-1] == "offset_5_m"
    assert {len(row) for row in rows} == {len(rows[0])}
    assert rows[-1][-1] != ""


def test_what_watches_claim_is_told_at_every_station_where_one_claims_any():
    analysis = make_analysis()
    assert "claims.csv" not in files_of(analysis)
    route = analysis.routes[0]
    claim_m = np.full(route.offset_m.shape, np.nan)
    claim_m[1] = 3.25
    told = replace(analysis, routes=(replace(route, claim_m=claim_m), *analysis.routes[1:]))
    table = pd.read_csv(io.StringIO(files_of(told)["claims.csv"]))
    np.testing.assert_allclose(table["station_m"], route.station_m)
    assert (table["claimed_1_m"] == 3.25).all()
    assert table["claimed_0_m"].isna().all()


def test_figures_survive_in_pandas():
    analysis = make_analysis()
    files = files_of(analysis)
    stations = pd.read_csv(io.StringIO(files["stations.csv"]))
    out = stations[stations["route"] == "out"]
    route = analysis.routes[0]
    np.testing.assert_allclose(out["station_m"], route.station_m)
    np.testing.assert_allclose(out["offset_3_m"], route.offset_m[3], atol=0.0051)
    segments = pd.read_csv(io.StringIO(files["segments.csv"]))
    assert list(segments.columns[:5]) == ["route", "from_m", "to_m", "verdict", "traces"]
    ordered = segments.dropna()
    assert (ordered["spread_low_m"] <= ordered["spread_m"]).all()
    assert (ordered["spread_m"] <= ordered["spread_high_m"]).all()
    fixes = pd.read_csv(io.StringIO(files["fixes.csv"]))
    assert fixes.loc[fixes["first_fix_source"] == "none", "first_fix_s"].isna().all()


def test_no_text_cell_is_a_formula():
    for name, content in files_of(make_analysis(hostile=True)).items():
        for row in csv.reader(io.StringIO(content, newline="")):
            for cell in row:
                numeric = cell.replace(".", "").replace("e", "").lstrip("-").isdigit()
                assert numeric or not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")), (name, cell)


def test_rows_match_their_columns():
    document = result_document(fuller(make_analysis(hostile=True)))
    for table in (inputs_table(document), *route_tables(document["routes"][0]), *comparison_tables(document)):
        assert table.rows, table.name
        assert {len(row) for row in table.rows} == {len(table.columns)}, table.name


def test_same_analysis_same_files():
    assert files_of(make_analysis(seed=2)) == files_of(make_analysis(seed=2))
