-- one row per version of a register that holds only from a day after the asked one: as of that day an older one does
-- kept
select r.entry, r.sheet, r.row, r.part
from (
    select entry, sheet, row, part, happened from site_said
    union all
    select entry, sheet, row, part, happened from plot_said
    union all
    select entry, sheet, row, part, happened from bed_said
    union all
    select entry, sheet, row, part, happened from permit_said
) r
cross join as_of a
where r.happened > a.register_day
