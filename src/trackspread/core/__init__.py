"""Geometry and statistics on plain arrays: polylines, matching, consensus, robust scale, intervals, runs."""
