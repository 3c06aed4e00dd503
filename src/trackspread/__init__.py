"""How well repeated GNSS traces of one route lie on each other, where they tear apart, and how sure that is."""

__version__ = "0.1.0"
