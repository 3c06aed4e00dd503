"""The table of rides: read, its times, a new one, and rows of a ride log."""
