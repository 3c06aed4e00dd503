"""Every route folder below a root, and the index of them."""
