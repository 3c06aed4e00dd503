"""Robust scale, distributions, exact intervals and runs, on plain arrays."""
