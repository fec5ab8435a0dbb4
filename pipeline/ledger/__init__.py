"""The append-only store: drops, segments, entries. The only truth; everything else can be rebuilt from it."""
