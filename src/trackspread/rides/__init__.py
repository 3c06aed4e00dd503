"""Who, when and which: the table of rides, routes, laps, copies and companions."""
