"""Whether a Darwin Core Archive, ours or anybody's, is as open repositories need it: a path in, findings out.

It knows nothing of ledgers: `check.check` reads the archive alone. Facts of the standards and of what repositories do
are cited rule by rule; “from memory” marks an effect for which we have no page.
"""
