"""Files to traces to witnesses: never a traceback for bad input, everything wrong told at once.

- ``read_files(paths, *, progress=None, workers=1, executor=None, cache=False, largest=…) -> ReadResult``:
  ``.traces``, ``.files``, ``.sheets``, ``.problems``.
- ``read_sheets(read, rides=None) -> Sheet``: every ``rides.csv`` among or beside the files, or the one
  named; ``.rows``, ``.problems``.
- ``assign_witnesses(read, sheet) -> (witnesses, problems)``: who, when and which; every problem speaks of
  a row of the table.
- ``parse(file, data, asked) -> (traces, problems)`` is the pure function behind `read_files`.
"""

from trackspread.readers.formats import parse
from trackspread.readers.read import FileTraces, ReadResult, read_files
from trackspread.readers.sheet import Sheet, read_sheets
from trackspread.readers.witnesses import assign_witnesses

__all__ = ["FileTraces", "ReadResult", "Sheet", "assign_witnesses", "parse", "read_files", "read_sheets"]
