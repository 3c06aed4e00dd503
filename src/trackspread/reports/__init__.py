"""`Analysis` to pages, tables, layers and pictures; nothing is computed here that a reader would quote."""
