-- Each bar's share in window, day by day, beside the whole chain's on that day.
select own.station, own.day, own.share, everybody.share as chain_share
from (select station, day, sum(case when in_window = 'true' then 1.0 else 0.0 end) / count(*) as share from pulls
      where in_window <> '' and practice = 'false' and coalesce(sink, '') = '' group by station, day) as own
join (select day, sum(case when in_window = 'true' then 1.0 else 0.0 end) / count(*) as share from pulls
      where in_window <> '' and practice = 'false' and coalesce(sink, '') = '' group by day) as everybody
on own.day = everybody.day order by own.station, own.day
