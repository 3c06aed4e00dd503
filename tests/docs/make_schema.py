"""Write docs/result.schema.json from the table of fields.

Usage: python tests/docs/make_schema.py
"""

from __future__ import annotations

from documents import DOCS

from trackspread.results.schema.describe import schema_text

if __name__ == "__main__":
    (DOCS / "result.schema.json").write_text(schema_text(), encoding="utf-8")
