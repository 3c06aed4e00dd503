"""Parquet on standard input, CSV on standard output: run in a process of its own by `table.parse_parquet`.

The only module that knows pyarrow, which believes what a file says of itself: a few changed bytes can ask
for more memory than there is, or end the process.
"""

from __future__ import annotations

import sys
from contextlib import suppress

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq

from trackspread.errors import UnreadableFile, printable
from trackspread.readers.formats.table import REFUSED, find_columns

MOST_ROWS = 5_000_000  # rows, bounds time
LARGEST_MEMORY = 4 * 2**30  # bytes, bounds memory
_ERRORS = (pa.ArrowException, OSError, ValueError, TypeError, OverflowError, MemoryError, NotImplementedError)


def main() -> int:
    """Write the columns that are known, or one line of what is wrong to standard error.

    Returns
    -------
    int
        Exit code.
    """
    with suppress(ImportError, ValueError, OSError):
        import resource  # noqa: PLC0415  (not on every system)

        resource.setrlimit(resource.RLIMIT_AS, (LARGEST_MEMORY, LARGEST_MEMORY))
    try:
        stored = pq.ParquetFile(pa.BufferReader(sys.stdin.buffer.read()))
        names = stored.schema_arrow.names
        columns = [names[place] for place in find_columns("", names).values()]
        if stored.metadata.num_rows > MOST_ROWS:
            raise ValueError(f"it holds {stored.metadata.num_rows} rows, and {MOST_ROWS} are read at most")
        pyarrow.csv.write_csv(stored.read(columns=columns, use_threads=False), sys.stdout.buffer)
    except UnreadableFile as error:
        print(f"{error.problem.rule} (found {error.problem.value!r})", file=sys.stderr)
        return REFUSED
    except _ERRORS as error:
        print(printable(str(error), 160), file=sys.stderr)
        return REFUSED
    return 0


if __name__ == "__main__":
    sys.exit(main())
