-- How often collars were turned by bar and grinder, and how often without a flag that asked for it.
select station, grinder, count(*) as turns, sum(case when coalesce(flag_id, '') = '' then 1 else 0 end) as without_a_flag
from moves group by station, grinder order by station, grinder
