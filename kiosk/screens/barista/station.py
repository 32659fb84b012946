"""The station: orders in the top bar, a lane a group, what the scale and the grinders say."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from kiosk import languages
from kiosk.bar.drift import NOTCH
from kiosk.bar.guide import next_lane
from kiosk.bar.messages import joined
from kiosk.bar.model import FINER
from kiosk.screens.barista.lane import LaneCard
from kiosk.screens.barista.queue_column import orders_told, waiting_orders
from kiosk.screens.barista.told import cued
from kiosk.screens.ui.look import look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, amount, drink_words, number


class StationScreen(Room):
    waiting = StringProperty()          # what waits, in few words; with a column of its own it stands there
    due = StringProperty()              # what opening or closing still asks for
    late = BooleanProperty(False)       # somebody waits longer than the bar wants anybody to
    flag = StringProperty()
    flag_why = StringProperty()
    flagged = StringProperty()          # the grinder whose flag is shown
    who = StringProperty()
    idle = BooleanProperty(True)
    weighed = StringProperty()
    collars = StringProperty()
    trouble = StringProperty()
    sounding = BooleanProperty(True)

    def __init__(self, **given):
        super().__init__(**given)
        self._cards: dict[int, LaneCard] = {}
        self._due_told, self._aged = None, 0
        self.ids.queue.bind(height=self.queue)

    def card(self, group: int) -> LaneCard:
        return self._cards[group]

    def enter(self):
        self.service.due.again()           # something may have been noted meanwhile

    def show(self):
        service = self.service
        if list(self._cards) != list(service.lanes):
            self.ids.lanes.clear_widgets()
            self._cards = {}
            for group in service.lanes:
                card = LaneCard(service=service, group=group)
                card.bind(on_bin=lambda card: self.rooms.open_bin(card.group),
                          on_note=lambda card: self.rooms.open_weight(card.group),
                          on_taste=lambda card: self.rooms.room("taste").of(self.service.lanes[card.group].last),
                          on_coach=lambda card: self.rooms.go("coach"))
                self._cards[group] = card
                self.ids.lanes.add_widget(card)
        for group, lane in service.lanes.items():
            self._cards[group].show(lane)
        self.idle = all(lane.work is None for lane in service.lanes.values())
        grinder, flag = standing(service)
        self.flagged = grinder.name if flag else ""
        self.flag, self.flag_why = flag_told(service, grinder, flag) if flag else ("", "")
        self.wait()
        self.sounding = service.setup.sounds
        self.who = service.barista or _("Who?")
        self.trouble = trouble_told(service)
        self.collars = ", ".join(
            _("{name} at {shown}").format(name=g.name, shown=g.shown) for g in service.setup.grinders)
        self.tick()

    def wait(self):
        """What waits: orders and, where no one works one off, what opening or closing still asks for."""
        self._due_told = self.service.due.found
        self._aged = self.service.line.aged
        waits = bool(self.service.line.waiting or self.service.till.open)
        late = late_orders(self.service)
        told = waiting_told(self.service, 0 if late else FEW, ". ") if self.flag else waiting_told(self.service, FEW if late else SHOWN)
        room_for_it = self.idle and (look.roomy or not (self.flag and waits))       # orders come before it on a small panel
        self.due = due_told(self._due_told if room_for_it else ())
        if self.flag:
            self.waiting = ". ".join(part for part in (told if waits else "", self.due) if part)
        else:
            self.waiting = "\n".join(part for part in (told, timers_told(self.service), self.due) if part)
        self.late = late > 0
        self.queue()

    def queue(self, *_):
        """The column beside the lanes, where there is one."""
        if look.roomy:
            orders, unread = waiting_orders(self.service), len(self.service.till.open)
            self.ids.queue.show(from_till(unread) if unread else orders_told(len(orders)), orders)

    def to_queue(self):
        self.rooms.go("till" if self.service.till.open else "line")

    def tells_stop_of(self, group: int) -> bool:
        return group in self._cards

    def tick(self):
        if self.service.due.found is not self._due_told or self.service.line.aged != self._aged:
            self.wait()
        first = next_lane((group, lane.work.guide, cued(lane.work, self.service.clock.s()))
                          for group, lane in self.service.lanes.items() if lane.work is not None)
        for group, lane in self.service.lanes.items():
            if group in self._cards:
                self._cards[group].first = group == first
                self._cards[group].tick(lane)
        self.weighed = weighed_told(self.service)
        self.trouble = trouble_told(self.service)        # a disk may stop answering while nobody touches anything


def due_told(due) -> str:
    """What opening or closing still asks for, where the hands are free for it."""
    return f"{_('Due: ')}{', '.join(_(each.words) for each in due)}" if due else ""


def timers_told(service) -> str:
    """What the timers want of grinders that dose by time; why, under Notch."""
    wanted = [(grinder.name, timed.tenths / 10) for grinder in service.setup.grinders
              if (timed := service.grinding.timer(grinder)) is not None]
    return "\n".join(_("{name}: timer {s} s").format(name=name, s=number(s, "+.1f")) for name, s in wanted)


SHOWN, FEW = 4, 2       # of the pulls that wait: by their names; the few beside a flag, or where it is said that some are late


def late_orders(service) -> int:
    return sum(service.line.late(order_id) for order_id, _pulls in service.line.orders())


def waiting_told(service, most: int = SHOWN, apart: str = "\n") -> str:
    """The line of orders: what no lane has taken yet, the first `most` by their names (0: how many are late alone)."""
    line = service.line
    made, more = line.as_made(most)
    titles = [drink_words(each.planned.title) for each in made]
    held = sum(each.order_id in line.held for each in line.waiting)
    if titles and (age_min := line.age_s(made[0].order_id) // 60):
        titles[0] += " " + _("{min:.0f} min").format(min=age_min)
    said = _("Next: ") + ", ".join(titles) if titles else "" if held or more else _("Nothing waits.")
    unread = len(service.till.open)
    if unread:
        said = from_till(unread) + ("\n" + said if titles else "")
    said += _(" and {n} more").format(n=more) if titles and more > 0 else ""
    late = late_orders(service)
    return apart.join(part for part in (_("Late: {n}").format(n=late) if late else "", said, _("Held: {n}").format(n=held) if held else "") if part)


def from_till(unread: int) -> str:
    return _("From the till: one to read") if unread == 1 else _("From the till: {n} to read").format(n=unread)


def standing(service):
    """(grinder, flag) that is shown first: one that can be turned before one that cannot."""
    flags = [(grinder, flag) for grinder in service.setup.grinders if (flag := service.grinding.flag(grinder))]
    return min(flags, key=lambda pair: pair[1].direction is None, default=(None, None))


def flag_told(service, grinder, flag) -> tuple[str, str]:
    """Who and what next, in a few words; and why, under it. Everything else is a touch away."""
    act = service.grinding.to_do(grinder)[0]
    if flag.direction is None:
        next_step = _("{grinder}: dose and tamp with care")
    elif act != NOTCH:
        next_step = _("{grinder}: judge the next pull")
    else:
        next_step = _("{grinder}: one notch finer") if flag.direction == FINER else _("{grinder}: one notch coarser")
    level_s = flag.evidence.get("level_s")
    if level_s is None:
        return next_step.format(grinder=grinder.name), ""
    why = _("{s:.0f} s slow") if level_s > 0 else _("{s:.0f} s fast")
    return next_step.format(grinder=grinder.name), why.format(s=abs(level_s))


NOT_YET_S = 1.0         # what waits for the disk so long is said


def trouble_told(service) -> str:
    """What is the matter now; else, until the first pull is done, what was found on opening."""
    book = service.book
    unset = _("The clock is not set: it says {day}. Set the date and the time: what was kept until then is put in its day.").format(
        day=book.day_now()) if book.clock_unset else ""
    unwritten = _("Not yet on disk: {n}").format(n=book.waiting) if book.waits_s > NOT_YET_S else ""
    return _(book.trouble) or unwritten or unset or _(
        service.backing.trouble or service.till.trouble or service.signals.trouble or found_on_opening(service))


def found_on_opening(service) -> str:
    if service.pulls_since_opening:
        return ""
    overdue = (told,) if (told := service.backing.overdue) else ()
    return joined(" ", (*service.book.notices, *service.complaints, *languages.notices(), *overdue))


def weighed_told(service) -> str:
    shown = [weighing for weighing in service.scales.weighings if weighing.there]
    grams = ", ".join(amount(weighing.latest.grams, ".1f", "g") for weighing in shown if weighing.latest)
    return _("Scale {grams}").format(grams=grams) if shown else _("No scale: by taps")


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
