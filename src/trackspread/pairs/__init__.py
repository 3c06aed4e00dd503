"""Receivers ridden together: clocks, separation, and the errors of each."""
