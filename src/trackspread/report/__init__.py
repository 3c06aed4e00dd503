"""The offline report: page, charts, map, words."""
