"""The projection: base tables appended from segments, plain SQL views on top. It can be thrown away and rebuilt."""
