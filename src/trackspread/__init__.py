"""How well repeated GNSS traces of one route lie on each other, and how sure that is."""

__version__ = "0.1.0"
