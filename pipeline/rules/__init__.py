"""Rules of the programme that one group of indicators reads, a file a group."""
