"""The drop page: the same job in a local browser window."""
