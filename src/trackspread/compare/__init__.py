"""Receivers of several finished analyses side by side."""
