-- How far off the recipe each grinder ran, by bar and week: mean adjusted seconds off, and from how many pulls.
select station, week, grinder, coffee, count(*) as pulls, avg(cast(off_s as double)) as off_s
from pulls where off_s <> '' and practice = 'false'
group by station, week, grinder, coffee order by station, week, grinder, coffee
