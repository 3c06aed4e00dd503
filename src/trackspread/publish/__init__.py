"""Ends cut off for publishing, and everything that would tell where they were."""
