"""Noted in two taps: a bag, new burrs, cleaning, the room, the scale. What is due stands above; the day is closed
here."""

from datetime import date, timedelta
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.bar.evening import note_mark, scale_mark
from kiosk.bar.model import Noted
from kiosk.screens.ui.look import Type
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _

STEPS = {"room": (("temperature_c", "°C", 0.5, -10, 50), ("humidity_percent", "%", 1, 0, 100)),
         "beans": (("roasted", "d", 1, 0, 0),)}
BAGS, BURRS = 4, 4      # keys that have a place: each keeps its own, however many coffees and grinders there are


class NotesScreen(Room):
    due = StringProperty()
    told = StringProperty()
    undoable = BooleanProperty(False)
    steps = ListProperty()          # (fact, unit, step, least, most) that can still be changed of the latest note

    def __init__(self, **given):
        super().__init__(**given)
        self._settles: list[tuple[Key, str]] = []       # keys, and what is due no more once it is tapped

    def enter(self):
        self.told, self.steps = "", []
        self.service.due.again()
        self._keys()

    def show(self):
        self.undoable = self.service.notes.latest is not None
        due = self._shown = self.service.due.found
        for key, what in self._settles:
            key.on = what in {each.what for each in due or ()}
        if self.service.closing.trouble:
            self.due = _(self.service.closing.trouble)
        elif due is not None:
            self.due = _("Due: ") + ", ".join(_(each.words) for each in due) if due else _("Nothing is due.")

    def tick(self):
        self.service.due.tick(while_pulling=True)
        if self.service.due.found is not self._shown:
            self.show()

    def _keys(self):
        keys = self.ids.choices
        keys.clear_widgets()
        self._settles.clear()
        setup = self.service.setup
        room = self.service.notes.room_now()
        self._key(_("Room"), _("{t:.1f} °C, {h:.0f} % last").format(t=room.get("temperature_c") or 20,
                                                                    h=room.get("humidity_percent") or 50),
                  lambda: self._note("room", **self.service.notes.room_now()), "room")
        self._key(_("Scale check"), _("known weight on it"), self._check_scale, "scale")
        self._key(_("Cleaned"), _("groups and shower screens"), lambda: self._note("cleaned", part="groups and shower screens"),
                  "cleaned")
        self._key(_("Close the day"), _("writes the evening"), self._close)
        for coffee in setup.coffees[:BAGS]:
            self._key(_("New bag"), coffee,
                      lambda coffee=coffee: self._note("beans", coffee=coffee, roasted=self._roast_date(coffee)),
                      "beans")
        self._blank(BAGS - len(setup.coffees))
        for grinder in setup.grinders[:BURRS]:
            self._key(_("New burrs"), grinder.name, lambda name=grinder.name: self._note("burrs", grinder=name))
        self._blank(BURRS - len(setup.grinders))

    def _blank(self, places: int):
        for _place in range(places):
            self.ids.choices.add_widget(Widget())

    def _key(self, text, under, tapped, settles=""):
        key = Key(text=text, under=under, size_u=Type.body)
        key.bind(on_tap=lambda key: tapped())
        self.ids.choices.add_widget(key)
        self._settles.append((key, settles))

    def _roast_date(self, coffee: str) -> str:
        """Bags are commonly opened a week or so after roasting: a date to start from, put right by the keys."""
        return (self.service.clock.now().date() - timedelta(days=7)).isoformat()

    def _note(self, what: str, **facts):
        self.service.notes.note(what, **facts)
        self.service.due.again()
        self._latest()

    def _check_scale(self):
        if self.service.notes.check_scale() is None:
            self.told = _("Set a test weight of 10 to 500 g on the scale, alone, then tap again.")
            self.steps = []
        else:
            self.service.due.again()
            self._latest()

    def _latest(self):
        latest = self.service.notes.latest
        if isinstance(latest, Noted):
            mark = note_mark(Noted(id=latest.id, at=latest.at, what=latest.what, facts=self.service.notes.facts))
            self.steps = list(STEPS.get(latest.what, ()))
        else:
            mark, self.steps = scale_mark(latest), []
        self.told = _("Noted: {words}").format(words=_(mark.words))
        self.show()

    def change(self, place: int, by: int):
        fact, _unit, step, least, most = self.steps[place]
        now = self.service.notes.facts[fact]
        if fact == "roasted":
            self.service.notes.change(roasted=(date.fromisoformat(now) + timedelta(days=by)).isoformat())
        else:
            self.service.notes.change(**{fact: min(most, max(least, now + by * step))})
        self._latest()

    def undo(self):
        self.service.notes.undo()
        self.told, self.steps = _("Undone."), []
        self.service.due.again()
        self.show()

    def _close(self):
        self.service.notes.finish()
        self.service.closing.write(self.service.book.day_now())
        self.told, self.steps = _("The evening goes to {folder}").format(folder=self.service.closing.folder), []
        begun = [lane.group for lane in self.service.lanes.values() if lane.work is not None and not lane.work.untouched]
        if begun:
            self.told = _("A pull is still open in group {n}. Serve it or bin it, then close the day again.").format(
                n=", ".join(map(str, begun)))
        self.show()

    def leave(self):
        self.service.notes.finish()
        self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
