-- one row per event that waits, and so takes part in no figure
-- kept
select distinct kind, identity from standing where effect = 'waits'
