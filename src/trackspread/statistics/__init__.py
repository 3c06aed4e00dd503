"""Figures with their uncertainty, from offsets at stations."""
