"""One module a format: bytes to traces and problems."""
