"""All that an evening shows, for the screen, the page and the files alike: the summary, charts, people, service,
costs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import time

from kiosk.bar.drift import adjusted_time_s
from kiosk.bar.evening.costs import Cost, costs
from kiosk.bar.evening.day_chart import DayChart, day_chart
from kiosk.bar.evening.figures import Even, GrinderFigures, figures, moment
from kiosk.bar.evening.notch import Within, notch_worth, notches_per_hour, together
from kiosk.bar.evening.opening import Start, start
from kiosk.bar.evening.people import Hands, people
from kiosk.bar.evening.sentences import day_sentence
from kiosk.bar.evening.summary import Summary
from kiosk.bar.evening.timers import timers_wanted
from kiosk.bar.evening.tomorrow import to_do
from kiosk.bar.evening.traffic import Hour, Traffic, hours, traffic
from kiosk.bar.messages import Message
from kiosk.bar.model import STARTS, Noted, OrderEnded, OrderTaken, Pull, Record, SettingChanged, corrected, service_day, span

BY_RUN_DAYS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderEvening:
    """One grinder with one coffee. `worth` is seconds a notch, `moving` notches an hour; None where not known.
    `moves_before` says how many of the moves that `worth` rests on are not this span's."""

    figures: GrinderFigures
    chart: DayChart
    hours: tuple[Hour, ...]
    worth: Within | None
    moving: Within | None
    start: Start | None
    moves_before: int = 0

    @property
    def name(self) -> Message:
        return Message("{grinder}, {coffee}", grinder=self.figures.grinder, coffee=self.figures.coffee)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """Of one service day, or of several. `people` is empty, and no name is to be said, where `names` is False."""

    summary: Summary
    grinders: tuple[GrinderEvening, ...]
    people: tuple[Hands, ...]
    traffic: Traffic
    costs: tuple[Cost, ...]
    notes: tuple[Noted, ...]
    names: bool = True

    @property
    def several_days(self) -> bool:
        return self.summary.figures.first_day != self.summary.figures.last_day

    @property
    def by_week(self) -> bool:
        """Whether it is so long that a line a week is read instead of one for each run at one setting."""
        return by_week(self.summary.figures.first_day, self.summary.figures.last_day)


def by_week(first_day: str, last_day: str) -> bool:
    return len(span(first_day, last_day)) > BY_RUN_DAYS


def evening(records: Iterable[Record], day: str, last_day: str | None = None, *, price_per_kg: float | None = None,
            show_people: bool = True, currency: str = "", worths: Mapping[tuple[str, str], Within] = {}, even: Even = adjusted_time_s,
            starts: time = STARTS, timers: Mapping[str, float] = {}) -> Evening:
    """The evening of service day `day` ("2026-10-23"), or of all days to `last_day`.

    `records` may be in any order and hold other days too: corrections among them are followed, whenever they were
    made. `even` gives a pull's adjusted time in seconds, or None. Sink shots are left out of adjusted times and drift,
    unless the grinder caused them, practice pulls of everything. `show_people`: whether anybody may be named. `worths`
    are seconds a notch by grinder and coffee, as the weeks before have them, `timers` where the timer of each grinder that doses by
    time stood at the end, in seconds.
    """
    last_day = last_day or day
    kept = [each for each in corrected(records) if day <= service_day(each.at, starts) <= last_day]
    found = figures(kept, lambda at: service_day(at, starts), day, last_day, even)
    notes = tuple(sorted((each for each in kept if isinstance(each, Noted)), key=lambda each: moment(each.at)))
    charts = tuple(day_chart(each, found, notes, even) for each in found.grinders)
    several = day != last_day
    changes = sorted((each for each in kept if isinstance(each, SettingChanged)), key=lambda each: moment(each.at))
    wanted = timers_wanted(found, changes, timers)
    return Evening(
        summary=Summary(sentence=day_sentence(found, price_per_kg, currency), to_do=to_do(found, show_people, wanted), figures=found,
                        timers=wanted),
        notes=notes, names=show_people, costs=costs(found, price_per_kg),
        grinders=tuple(_grinder(each, chart, found.pulls, several, worths.get((each.grinder, each.coffee)))
                       for each, chart in zip(found.grinders, charts)),
        people=people(found, charts) if show_people else (),
        traffic=traffic(found, (each for each in kept if isinstance(each, OrderTaken)),
                        (each for each in kept if isinstance(each, OrderEnded))))


def _grinder(each: GrinderFigures, chart: DayChart, pulls: Iterable[Pull], several: bool, before: Within | None) -> GrinderEvening:
    worth = together(notch_worth(each), before)
    own = [pull for pull in pulls if (pull.grinder, pull.coffee) == (each.grinder, each.coffee)]
    return GrinderEvening(figures=each, chart=chart, hours=hours(own, several), worth=worth.s if worth else None,
                          moving=notches_per_hour(each, worth), start=start(each),
                          moves_before=before.count if before else 0)
