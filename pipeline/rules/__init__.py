"""What a programme decides for one group of indicators: a frozen value a group, read from programme.toml."""
