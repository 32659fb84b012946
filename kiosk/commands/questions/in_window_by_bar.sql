-- How many of a bar's timed pulls were in their window, and the share.
select station, count(*) as timed, sum(case when in_window = 'true' then 1 else 0 end) as good,
       sum(case when in_window = 'true' then 1.0 else 0.0 end) / count(*) as share
from pulls where in_window <> '' and practice = 'false' and coalesce(sink, '') = ''
group by station order by station
