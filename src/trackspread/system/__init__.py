"""Atomic writing, workers, cluster and signals."""
