"""Rules of the programme that belong to one group of indicators: a frozen value and its parsing, a file a group."""
