"""result.json: valid against its JSON Schema (draft 2020-12), strict JSON (RFC 8259), honest digits."""

import copy
import dataclasses
import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from records import fuller, make_analysis
from trackspread.errors import UnreadableFile
from trackspread.results.document import load_result, result_document, result_text

SCHEMA_FILE = Path(__file__).parents[2] / "docs" / "result.schema.json"
SCHEMA = json.loads(SCHEMA_FILE.read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def complaints(document):
    return [f"{e.json_path}: {e.message}" for e in VALIDATOR.iter_errors(document)]


def test_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("hostile", [False, True])
@pytest.mark.parametrize(("traces", "pairs"), [(2, False), (2, True), (3, False), (6, True), (9, True)])
def test_document_is_valid(traces, pairs, hostile):
    analysis = make_analysis(traces=traces, pairs=pairs, routes=3, hostile=hostile)
    assert complaints(result_document(fuller(analysis))) == []
    document = result_document(analysis)
    assert complaints(document) == []
    assert json.loads(result_text(document)) == document


def test_schema_refuses_what_the_contract_forbids():
    sound = result_document(make_analysis())
    for spoil in (
        lambda d: d.pop("inputs"),
        lambda d: d["routes"][0]["segments"][0].pop("verdict"),
        lambda d: d["routes"][0]["segments"][0].update(verdict="fine"),
        lambda d: d["routes"][0]["segments"][7]["spread"].pop("reason"),
        lambda d: d["routes"][0]["traces"][1]["first_fix"].update(value_s=0.0),
        lambda d: d["routes"][0]["traces"][1]["first_fix"].pop("value_s_reason"),
        lambda d: d["routes"][0]["centreline"]["coordinates"].append([181.0, 0.0]),
        lambda d: d["routes"][0]["pairs"][0].pop("common_sd_m_reason"),
    ):
        broken = copy.deepcopy(sound)
        spoil(broken)
        assert complaints(broken) != []


def test_unknown_figures_are_null_with_a_reason():
    document = result_document(make_analysis())
    first = document["routes"][0]["traces"][1]["first_fix"]
    assert first["value_s"] is None
    assert first["value_s_reason"] == "no start is known"
    assert first["source"] == "none"
    settled = document["routes"][0]["traces"][-1]["settled_fix"]
    assert settled["value_s"] is None
    assert settled["censored"] is True
    assert document["routes"][0]["segments"][7]["spread"]["reason"] == "fewer than two traces"
    assert all(t["first_fix"]["value_s"] is None for t in document["routes"][1]["traces"])


def test_centreline_has_seven_decimals_and_wraps():
    route = result_document(make_analysis(place=(179.99, -50.0)))["routes"][0]
    lon = np.array(route["centreline"]["coordinates"])[:, 0]
    assert lon.min() < -179.9
    assert lon.max() > 179.9
    assert (np.abs(np.diff(lon)) > 180).sum() == 1
    np.testing.assert_array_equal(lon, lon.round(7))
    west, _, east, _ = next(e["bounds"] for e in route["film"] if e["bounds"][0] * e["bounds"][2] < 0)
    assert west < 0 < east or west > east


# Review of Particle Physics (Particle Data Group), introduction, section 5.3 "Rounding": 0.827 +- 0.119
# is given as 0.83 +- 0.12, and 0.827 +- 0.367 as 0.8 +- 0.4. From memory.
def test_round_trip_through_a_file(tmp_path):
    document = result_document(make_analysis(hostile=True))
    (tmp_path / "result.json").write_text(result_text(document), encoding="utf-8")
    assert load_result(tmp_path) == document
    assert load_result(tmp_path / "result.json") == document


def spoilt(spoil):
    document = result_document(make_analysis(routes=1, traces=3))
    spoil(document)
    return json.dumps(document)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", "JSON"),
        ("[]", "object"),
        ("[" * 100_000, "JSON"),
        ('{"schema": NaN}', "NaN"),
        ('{"schema": "other/1"}', "schema"),
        ('{"schema": ["trackspread.result/1"]}', "schema"),
        ("9" * 5000, "JSON"),
        (spoilt(lambda d: d["routes"][0]["segments"][3].update(verdict="{{7*7}}")), "segments[3].verdict"),
        (spoilt(lambda d: d["routes"][0]["segments"][3].update(verdict=[])), "segments[3].verdict"),
        (spoilt(lambda d: d["routes"][0].update(length_m=True)), "routes[0].length_m"),
        (spoilt(lambda d: d["routes"][0].update(length_m=1e400)), "JSON"),
        (spoilt(lambda d: d["routes"][0].update(traces={})), "routes[0].traces"),
        (spoilt(lambda d: d["routes"][0].pop("film")), "routes[0].film"),
        (spoilt(lambda d: d["routes"][0]["film"][0].update(bounds=[0, 91, 0, 0])), "film[0].bounds"),
        (spoilt(lambda d: d["inputs"][0].update(points=-1)), "inputs[0].points"),
    ],
)
def test_unsound_files_are_refused_with_their_place(tmp_path, text, place):
    file = tmp_path / "result.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(UnreadableFile) as caught:
        load_result(file)
    assert place in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 600


def test_missing_and_binary_files_are_refused(tmp_path):
    with pytest.raises(UnreadableFile, match="cannot be read"):
        load_result(tmp_path / "none.json")
    (tmp_path / "result.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UnreadableFile, match="UTF-8"):
        load_result(tmp_path)


def test_same_analysis_same_text():
    first, second = (result_text(result_document(make_analysis(seed=3))) for _ in range(2))
    assert first == second
    later = dataclasses.replace(make_analysis(seed=3), created_s=2_000_000_000.0)
    changed = result_text(result_document(later)).splitlines()
    assert [a for a, b in zip(first.splitlines(), changed, strict=True) if a != b] == [
        ' "created": "2026-01-01T00:00:00Z",'
    ]
