-- Grams lost by bar: sink shots and heavy doses, and grounds purged after a turn; tasting shots are apart.
select station, sum(sunk_g) as sunk_g, sum(over_g) as over_g, sum(tasted_g) as tasted_g, sum(purged_g) as purged_g,
       sum(sunk_g + over_g + purged_g) as lost_g
from (select station, cast(sunk_g as double) as sunk_g, cast(over_g as double) as over_g,
             cast(tasted_g as double) as tasted_g, 0.0 as purged_g from pulls where practice = 'false'
      union all
      select station, 0.0, 0.0, 0.0, cast(grams as double) from purges) as lost
group by station order by station
