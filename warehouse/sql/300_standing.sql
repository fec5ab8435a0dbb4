-- one row per event and rule that speaks of it, as of the asked day and entry
-- kept
{rules}
