"""Where a trace leaves the others: stretches, the events they make, settling, other ways."""
