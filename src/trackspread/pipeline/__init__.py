"""Traces to `Analysis`, phase by phase."""
