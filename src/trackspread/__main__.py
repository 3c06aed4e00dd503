"""``python -m trackspread``, and the command ``trackspread``."""

import signal
import sys

from trackspread.system.signals import heard_everywhere


def run() -> None:
    """Load the command line and run it; being told to end, or left by the terminal, interrupts it too."""
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.default_int_handler)
    heard_everywhere()
    try:
        from trackspread.cli import main  # noqa: PLC0415

        main()
    except KeyboardInterrupt:
        print("trackspread: interrupted", file=sys.stderr)
        sys.exit(130)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is said; only the end is left


if __name__ == "__main__":
    run()
