"""After a restart: the day's records, played again, give back what was waiting and what was being made."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import (
    DOUBLE,
    TASTING,
    BadRecord,
    Corrected,
    Drink,
    GuideEvent,
    NotchMoved,
    Noted,
    OrderEnded,
    OrderTaken,
    PlannedPull,
    Pull,
    Recipe,
    Record,
    SettingChanged,
    Setup,
    event_from_json,
    event_problem,
    plan,
)
from kiosk.book import Book
from kiosk.station.lane import Waiting, Work
from kiosk.station.order_queue import DEEDS, as_changed

BEGAN, PUT_BACK, REGROUND = "Began", "PutBack", "Reground"
MISREAD = (ValueError, TypeError, KeyError, AttributeError, IndexError, OverflowError)
log = logging.getLogger(__name__)
CLOCK_SET = "clock set"             # what a Noted says of a wall clock that jumped while the kiosk ran, by `by_s`
CLOCK_KNOWN = "clock known"         # of one that was not set until then: `by_s`, and how many `records` went to their day
LATEST_DAYS = 3                     # by their names, among which those are that a wrong clock wrote
STILL_WANTED = timedelta(hours=3)   # after it was taken, an order of the service day before (chosen)


@dataclass(slots=True)
class Restored:
    """What a day's records leave to do: `last` is the latest moment kept, (clock seconds, wall time)."""

    waiting: list[Waiting] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    attempts: dict[tuple[str, int], int] = field(default_factory=dict)
    last: tuple[float, str] | None = None
    jumped_s: float = 0.0                                           # that the wall clock was set forward by since
    deeds: list[tuple[str, str, dict]] = field(default_factory=list)    # what hands did to the line: (what, order id, facts)
    taken: list[OrderTaken] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)                  # the ids of orders, as they were ended
    aside: list[str] = field(default_factory=list)                  # pulls whose events cannot be read today
    unread: int = 0                                                 # records that are whole, and say nothing that can be done
    collars: dict[str, int] = field(default_factory=dict)           # where a notch, or a hand in Setup, left them


def began(work: Work, t_s: float) -> dict:
    """The event that a pull was begun: all that is needed to build `work` again."""
    guide = work.guide
    return {"event": BEGAN, "t_s": t_s, "group": work.group, "order_id": work.waiting.order_id,
            "index": work.waiting.index, "also": list(work.waiting.also) if work.waiting.also else None, "recipe": asdict(guide.recipe), "full": guide.full,
            "has_scale": guide.has_scale, "warm": work.planned.to_warm, "grinder": work.grinder, "setting": work.setting,
            "barista": work.barista, "began_at_s": guide.began_at_s, "before": work.events}


def put_back(t_s: float) -> dict:
    return {"event": PUT_BACK, "t_s": t_s}


def reground(setting: int, t_s: float) -> dict:
    return {"event": REGROUND, "t_s": t_s, "setting": setting}


def records_to_replay(book: Book) -> list[Record]:
    """This station's records that a restart plays again, as kept and in the order written, whatever the clock did
    meanwhile: the service day's, and those of the days written last, where nothing was kept since, or where orders from
    then are still wanted; older orders are left out."""
    days = book.days()
    today = book.day_now()
    near = dict.fromkeys((*days[-LATEST_DAYS:], *[day for day in days if day < today][-1:], today))
    kept = sorted((each for records in map(book.day, near) for each in records.as_kept(traces=False)
                   if records.is_ours(each.id)), key=lambda each: each.id)
    in_today = book.day(today)
    ages = _ages([each for each in kept if not isinstance(each, Pull)], book.at())     # a pull's id is its order's
    alone = not len(in_today)
    wanted = {each.id for each in kept if isinstance(each, OrderTaken)
              and (each.id in in_today or ages[each.id] < STILL_WANTED)}
    latest = max((each.id for each in kept), default="")
    return [each for each in kept if each.id in wanted or not isinstance(each, OrderTaken)
            and (each.id in in_today or wanted or alone or each.id == latest)]


def _ages(kept: Sequence[Record], now: str) -> dict[str, timedelta]:
    """How long ago each was written, added up from one record to the next: a clock set back adds nothing, and what it
    was seen to jump forward by is taken off."""
    ages, age, later = {}, timedelta(0), _moment(now)
    for each in reversed(kept):
        at = _moment(each.at)
        if at is not None and later is not None:
            age += max(timedelta(0), later - at)
        later = at or later
        ages[each.id] = max(timedelta(0), age)
        if isinstance(each, Noted) and each.what == CLOCK_SET:
            age -= timedelta(seconds=max(0.0, float(each.facts.get("by_s", 0))))
    return ages


def _moment(at: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(at)
    except (ValueError, TypeError):
        return None
    return moment if moment.tzinfo else None        # a file edited by hand may have left the offset out


def restored(records: Sequence[Record], setup: Setup) -> Restored:
    plans: dict[str, tuple[PlannedPull, ...]] = {}
    ended: set[str] = set()
    opened: dict[str, dict] = {}
    events: dict[str, list[dict]] = {}
    pulls: dict[str, Pull] = {}
    void = {each.of for each in records if isinstance(each, Corrected) and each.void}
    moves: dict[str, NotchMoved] = {}
    found = Restored()
    dropped_places: set[tuple[str, str]] = set()
    also: dict[str, tuple[str, str]] = {}               # the other place of a pull that serves two orders

    def take(kept: Record) -> None:
        match kept:
            case OrderTaken():
                plans[kept.id] = _planned(kept, setup.drink)
                found.taken.append(kept)
            case OrderEnded() if kept.id not in void:
                ended.add(kept.order_id)
                found.ended.append(kept.order_id)
            case Pull():
                pulls[kept.id] = kept
            case Noted(facts={"order_id": order_id}) if kept.what in DEEDS:
                found.deeds.append((kept.what, order_id, kept.facts))
            case Noted(what="order changed", facts={"order_id": str(order_id), "dropped": list(dropped), "pulls": list(new)}):
                if order_id in plans:
                    plans[order_id] += _pulls_of(new, setup.drink)
                    dropped_places.update((order_id, str(index)) for index in dropped)
                    found.taken = [as_changed(each, kept.facts) if each.id == order_id else each for each in found.taken]
            case NotchMoved():
                moves[kept.id] = kept
                found.collars[kept.grinder] = kept.after
            case Corrected(void=True) if kept.of in moves:
                found.collars[moves[kept.of].grinder] = moves[kept.of].before
            case SettingChanged(after=after) if kept.path.startswith("grinders"):
                match kept.path.split("."):
                    case [_, name, "setting"] if isinstance(after, int):
                        found.collars[name] = after
                    case [_] if isinstance(after, dict):        # a list at its default was written out whole
                        found.collars = {name: each["setting"] for name, each in after.items()
                                         if isinstance(each, dict) and isinstance(each.get("setting"), int)}
                    case _:
                        found.collars.clear()
            case GuideEvent(event={"event": "Began"} as event):
                opened[kept.pull_id], events[kept.pull_id] = event, list(event["before"])
                if (other := _also(event)) is not None:
                    also[kept.pull_id] = other[0], str(other[1])
                place = event["order_id"], event["index"]
                found.attempts[place] = found.attempts.get(place, 0) + 1
            case GuideEvent(event={"event": "PutBack"}):
                opened.pop(kept.pull_id, None)
            case GuideEvent(event={"event": "Reground", "setting": setting}) if kept.pull_id in opened:
                opened[kept.pull_id] = opened[kept.pull_id] | {"setting": setting}
            case GuideEvent():
                events.setdefault(kept.pull_id, []).append(kept.event)
        if isinstance(kept, GuideEvent) and isinstance(kept.event.get("t_s"), (int, float)):
            found.last, found.jumped_s = (kept.event["t_s"], kept.at), 0.0
        if isinstance(kept, Noted) and kept.what == CLOCK_SET:
            found.jumped_s += float(kept.facts.get("by_s", 0))

    for kept in records:
        try:
            take(kept)
        except MISREAD as wrong:        # one that nobody thought of stops no service
            log.warning("%s %s could not be taken up: %s", type(kept).__name__, kept.id, wrong)
            found.unread += 1
    done = [key for key, pull in pulls.items() if pull.sink is None and key not in void]
    served = {tuple(key.split(".")[:2]) for key in done} | {also[key] for key in done if key in also} | dropped_places
    for key, event in opened.items():
        try:
            order_id, index = event["order_id"], event["index"]
            if key not in pulls and order_id in plans and 0 <= index < len(plans[order_id]):
                if amiss := event_problem(event):
                    raise BadRecord(amiss)
                waiting = _waiting(event, plans)
                found.works.append(work_of(key, waiting, event, events[key]))
                served |= {(each, str(n)) for each, n in waiting.places}
        except MISREAD as wrong:        # the drinks are still owed: they wait again
            log.warning("pull %s could not be taken up again: %s", key, wrong)
            found.aside.append(key)
    found.waiting = [Waiting(order_id, n, planned) for order_id, planned_pulls in plans.items() if order_id not in ended
                     for n, planned in enumerate(planned_pulls) if (order_id, str(n)) not in served]
    return found


def _waiting(event: dict, plans: dict[str, tuple[PlannedPull, ...]]) -> Waiting:
    order_id, index = event["order_id"], event["index"]
    own, other = plans[order_id][index], _also(event)
    if other is None or other[0] not in plans or other[1] >= len(plans[other[0]]):
        return Waiting(order_id, index, own)
    drinks = (*own.drinks, *plans[other[0]][other[1]].drinks)
    return Waiting(order_id, index, PlannedPull(coffee=own.coffee, basket=DOUBLE, drinks=drinks), (other[0], other[1]))


def _also(event: dict) -> tuple[str, int] | None:
    """The second order that a pull serves, and its index there; None where there is none, or nothing that can be read."""
    match event.get("also"):
        case [str(order_id), int(index)] if index >= 0 and not isinstance(index, bool):
            return order_id, index
    return None


def _pulls_of(pulls: Sequence[Any], drink: Callable[[str], Drink]) -> tuple[PlannedPull, ...]:
    """Pulls as a record has them: [coffee, basket, [drinks]]."""
    return tuple(PlannedPull(coffee=coffee, basket=basket, drinks=tuple(drink(name) for name in names))
                 for coffee, basket, names in pulls)


def _planned(order: OrderTaken, drink: Callable[[str], Drink]) -> tuple[PlannedPull, ...]:
    """The pulls of an order as they were planned; a drink that has left the menu since keeps its name."""
    if not order.pulls:                 # of a record that did not keep them yet
        return plan(tuple((drink(name), count) for name, count in order.drinks), order.coffee)
    pulls = _pulls_of(order.pulls, drink)
    for_nobody = not order.drinks and order.label == TASTING        # a name that somebody typed has drinks to it
    return tuple(replace(each, tasting=True, grinder=order.grinder) for each in pulls) if for_nobody else pulls


def work_of(key: str, waiting: Waiting, event: dict, events: list[dict]) -> Work:
    """The pull that `event` began, as `events` have brought it on."""
    guide = guides.begin(Recipe(**event["recipe"]), event["began_at_s"], full=event["full"],
                         has_scale=event["has_scale"], warm=event.get("warm", True))
    for each in events:
        guide = guides.step(guide, event_from_json(each))
    return Work(key=key, group=event["group"], waiting=waiting, guide=guide, grinder=event["grinder"],
                setting=event["setting"], barista=event["barista"], events=events)
