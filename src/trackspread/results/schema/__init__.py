"""The result as one table of fields: everything that is written, checked, described, shown and read back.

A field is one entry: name, kind with unit and rounding, meaning, reason where it is null, columns. From here
come result.json, the contract it is held to when read, docs/result.schema.json, tables/*.csv, the layers
and the records read back. The names are those of ``trackspread.result/1``; new ones are ``optional``.
"""

from trackspread.results.schema.route import RESULT, ROUTE, SCHEMA

__all__ = ["RESULT", "ROUTE", "SCHEMA"]
