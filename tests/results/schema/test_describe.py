"""docs/result.schema.json is what the table of fields says, to the byte."""

from pathlib import Path

from trackspread.results.schema.describe import schema_text

FILE = Path(__file__).parents[3] / "docs" / "result.schema.json"


def test_the_json_schema_is_that_of_the_fields() -> None:
    same = FILE.read_text("utf-8") == schema_text()
    assert same, "run tests/docs/make_schema.py"
