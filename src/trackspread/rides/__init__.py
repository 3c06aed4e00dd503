"""Who, when and which: the table of rides, routes, laps, copies and companions.

- ``read_sheets(read, rides=None) -> Sheet``: every ``rides.csv`` among or beside the files, or the one
  named; ``.rows``, ``.problems``.
- ``assign_witnesses(read, sheet) -> (witnesses, problems)``: who, when and which; every problem speaks of
  a row of the table.
"""

from trackspread.rides.assign import assign_witnesses
from trackspread.rides.table import Sheet, read_sheets

__all__ = ["Sheet", "assign_witnesses", "read_sheets"]
