"""How much memory a process of its own took, as a line of code that it runs last."""

PRINT_PEAK_MB = (
    "\nfrom pathlib import Path\n"
    "print(int(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]) // 1024)"
)
"""Linux. Not ``ru_maxrss``: a child inherits that of the process that started it."""
