"""Files to traces: every reader gives `Trace` records and findings, never a traceback for bad input."""
