"""Files to traces: never a traceback for bad input, everything wrong told at once.

- ``read_files(paths, *, progress=None, workers=1, executor=None, cache=False, largest=…) -> ReadResult``:
  ``.traces``, ``.files``, ``.sheets``, ``.problems``.
- ``parse(file, data, asked) -> (traces, problems)`` is the pure function behind `read_files`.
"""

from trackspread.readers.read import FileTraces, ReadResult, read_files
from trackspread.readers.recognise import parse

__all__ = ["FileTraces", "ReadResult", "parse", "read_files"]
