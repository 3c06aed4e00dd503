"""Files to traces: every reader gives `Trace` records and findings, never a traceback for bad input.

``read_files(paths, progress=…, workers=…, cache=…) -> ReadResult`` reads everything below some paths;
``read_sheets(read, rides) -> Sheet`` finds the table of rides;
``assign_witnesses(read, sheet) -> (witnesses, problems)`` answers who, when and which.
"""

from trackspread.readers.read import FileTraces, ReadResult, read_files
from trackspread.readers.sheet import Sheet, read_sheets
from trackspread.readers.witnesses import assign_witnesses

__all__ = ["FileTraces", "ReadResult", "Sheet", "assign_witnesses", "read_files", "read_sheets"]
