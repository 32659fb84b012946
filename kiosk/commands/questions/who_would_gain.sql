-- Whose weighed doses wander most about the recipe's, by bar: who would gain most from an hour at the practice bar.
select station, barista, count(*) as doses,
       sqrt(avg((cast(dose_g as double) - cast(target_dose_g as double)) * (cast(dose_g as double) - cast(target_dose_g as double))))
           as wander_g
from pulls where dose_g <> '' and barista <> '' and practice = 'false'
group by station, barista having count(*) >= 5 order by station, wander_g desc, barista
