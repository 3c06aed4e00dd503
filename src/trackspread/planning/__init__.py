"""How many rides are enough, as table and chart."""
