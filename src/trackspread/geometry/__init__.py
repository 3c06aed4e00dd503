"""Grids, polylines, matching and the consensus centreline, on plain arrays."""
