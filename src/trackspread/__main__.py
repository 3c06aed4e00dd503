"""``python -m trackspread``, and the command ``trackspread``."""

import atexit
import os
import signal
import sys

from trackspread.system.signals import (
    flush_streams,
    heard_everywhere,
    interrupted_by,
    open_streams,
    was_interrupted,
)

INTERRUPTED = 130  # exit code, 128 + SIGINT as in shells


def run() -> None:
    """Load the command line and run it; being told to end, or left by the terminal, interrupts it too."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the matrices are small: more threads only wait
    codes = [1]
    atexit.register(lambda: os._exit(codes[-1]))  # the last thing of all: taking modules apart takes its time
    open_streams()
    interrupted_by("SIGINT", "SIGTERM", "SIGHUP")
    heard_everywhere()
    try:
        from trackspread.cli import main  # noqa: PLC0415

        main()
    except KeyboardInterrupt:
        codes.append(INTERRUPTED)
        _interrupted()
    except SystemExit as end:
        codes.append(end.code if isinstance(end.code, int) else int(bool(end.code)))
        raise
    except Exception:
        if not was_interrupted():
            raise
        codes.append(INTERRUPTED)
        _interrupted()
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is said; only the end is left
        flush_streams()


def _interrupted() -> None:
    print("trackspread: interrupted", file=sys.stderr)
    sys.exit(INTERRUPTED)


if __name__ == "__main__":
    run()
