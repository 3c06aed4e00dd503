"""The consensus centreline of repeated traces, from the first line to the last step."""
