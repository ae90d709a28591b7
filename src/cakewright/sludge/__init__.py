"""Where the sludge comes from, what it is made of, how sludges blend, and the sludge law."""
