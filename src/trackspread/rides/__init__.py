"""Who, when and which: the table of rides, routes, laps, copies and companions.

- ``read_sheets(read, rides=None) -> Sheet``: every ``rides.csv`` among or beside the files, or the one
  named; ``.rows``, ``.noted`` (rows of a ride log, which name no file), ``.problems``.
- ``assign_witnesses(read, sheet) -> (witnesses, problems)``: who, when and which; every problem speaks of
  a row of the table.
- ``rows_of(read, sheet) -> rows``: what the table says of each trace.
"""

from trackspread.rides.assign import assign_witnesses, rows_of
from trackspread.rides.sheet.table import Sheet, read_sheets

__all__ = ["Sheet", "assign_witnesses", "read_sheets", "rows_of"]
