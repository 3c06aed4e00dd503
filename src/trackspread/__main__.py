"""``python -m trackspread``, and the command ``trackspread``."""

import gc
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
    open_streams()
    interrupted_by("SIGINT", "SIGTERM", "SIGHUP")
    heard_everywhere()
    try:
        from trackspread.cli import main  # noqa: PLC0415

        main()
    except KeyboardInterrupt:
        _interrupted()
    except Exception:
        if not was_interrupted():
            raise
        _interrupted()
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is said; only the end is left
        flush_streams()
        gc.freeze()  # the system frees all at once; to look for cycles in it first takes a third of a second


def _interrupted() -> None:
    print("trackspread: interrupted", file=sys.stderr)
    sys.exit(INTERRUPTED)


if __name__ == "__main__":
    run()
