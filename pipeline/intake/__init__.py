"""From a partner's bytes to typed rows: read, map, cast. What cannot be read or cast is a Fault, never lost."""
