"""The rules of each group of indicators: frozen values, read from the programme's TOML by `parse`."""
