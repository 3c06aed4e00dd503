"""One result as JSON, arrays, CSV and layers, and read back."""
