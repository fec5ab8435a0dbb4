"""A mapping is suggested for a sheet that nobody has mapped, with what speaks for it and what it must ask."""
