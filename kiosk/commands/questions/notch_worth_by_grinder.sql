-- Seconds that one notch finer adds, by grinder, from the pulls at neighbouring settings of a day: a first look, drift
-- is not taken out.
select station, grinder, coffee, count(*) as days,
       sum((cast(finer_s as double) - cast(coarser_s as double)) * weight) / sum(weight) as seconds_a_notch
from (select a.station, a.grinder, a.coffee, a.off_s as finer_s, b.off_s as coarser_s,
             1.0 * a.pulls * b.pulls / (a.pulls + b.pulls) as weight
      from (select station, day, grinder, coffee, cast(setting as integer) as setting, avg(cast(off_s as double)) as off_s,
                   count(*) as pulls from pulls where off_s <> '' and practice = 'false'
            group by station, day, grinder, coffee, cast(setting as integer)) as a
      join (select station, day, grinder, coffee, cast(setting as integer) as setting, avg(cast(off_s as double)) as off_s,
                   count(*) as pulls from pulls where off_s <> '' and practice = 'false'
            group by station, day, grinder, coffee, cast(setting as integer)) as b
      on a.station = b.station and a.day = b.day and a.grinder = b.grinder and a.coffee = b.coffee and b.setting = a.setting + 1
      where a.pulls >= 3 and b.pulls >= 3) as pairs
group by station, grinder, coffee order by station, grinder, coffee
