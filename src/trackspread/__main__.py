"""``python -m trackspread``."""

from trackspread.cli import main

main()
