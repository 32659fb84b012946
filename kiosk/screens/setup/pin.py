"""The door of the manager's rooms: digits to tap, or to type. Service never comes by here."""

from pathlib import Path

from kivy.clock import mainthread
from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from kiosk.bar.model import LEAST, MOST, Unfit
from kiosk.screens.ui.keyboard import Typed
from kiosk.screens.ui.look import Type
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _

DIGITS = "1234567890"


class PinScreen(Typed, Room):
    """`then` is the room behind the door; `setting` whether a new PIN is being chosen."""

    then = StringProperty("today")
    setting = BooleanProperty(False)
    told = StringProperty()
    written = StringProperty()
    shown = StringProperty("–")
    busy = BooleanProperty(False)
    KEYS = {"backspace": "delete", "enter": "enter_it", "numpadenter": "enter_it", "escape": "back"}

    def on_kv_post(self, _base):
        for digit in DIGITS:
            key = Key(text=digit, size_u=Type.head, again_s=0.1)
            key.bind(on_tap=lambda key, digit=digit: self.add(digit))
            self.ids.figures.add_widget(key)

    def enter(self):
        super().enter()
        self.written, self._first, self._refused = "", "", ""
        self.tick()

    def tick(self):
        left_s = 0.0 if self.setting else self.service.pin.left_s
        if left_s > 0:
            self.told = _("That was wrong. Wait {s:.0f} s, then try again.").format(s=left_s + 0.5)
        elif self.service.pin.damaged:
            self.told = _("The PIN's file is damaged, so these rooms stay closed. At the machine: evenpull pin --remove. "
                          "Then set a new PIN.")
        elif self._refused:
            self.told = self._refused
        elif self.setting:
            self.told = _("The same again, to be sure.") if self._first else \
                _("Choose {least} to {most} digits.").format(least=LEAST, most=MOST)
        else:
            self.told = _("The manager's PIN. Service goes on without it: tap Back.")

    def add(self, digit: str):
        if not self.busy and len(self.written) < MOST:
            self.written += digit
            self._refused = ""

    def typed(self, letters: str):
        for digit in letters:
            if digit in DIGITS:
                self.add(digit)

    def on_written(self, *_given):
        self.shown = "•" * len(self.written) or "–"

    def delete(self):
        self.written = self.written[:-1]

    def enter_it(self):
        typed, self.written = self.written, ""
        if self.setting:
            self._choose(typed)
        elif len(typed) >= LEAST and not self.busy:
            self.busy = True
            self.service.aside.begin("pin", lambda: self._tried(self.service.pin.opens(typed)), lambda: self._tried(None))

    @mainthread
    def _tried(self, fits: bool | None):
        self.busy = False
        if self.rooms.current != self.name:
            return                      # whoever it was went back to work meanwhile
        if fits:
            self.rooms.unlock(self.then)
        else:
            self._refused = _("That was wrong.") if fits is False else _("The PIN could not be looked at. Try again.")
            self.tick()

    def _choose(self, typed: str):
        if not LEAST <= len(typed) <= MOST:
            self._refused = _("A PIN has {least} to {most} digits.").format(least=LEAST, most=MOST)
        elif not self._first:
            self._first, self._refused = typed, ""
        elif typed != self._first:
            self._first, self._refused = "", _("These were not the same. Choose again.")
        else:
            try:
                self.service.pin.set(typed)
            except (Unfit, OSError) as wrong:
                self._first, self._refused = "", _(wrong.message) if isinstance(wrong, Unfit) else \
                    _("The PIN could not be kept. See that the disk has room.")
            else:
                return self.rooms.unlock("setup")
        self.tick()

    def back(self):
        if self.setting:
            self.rooms.go("setup")
        else:
            self.rooms.home()

    def without(self):
        try:
            self.service.pin.remove()
        except OSError:
            self._refused = _("The PIN could not be taken away. See that the disk may be written to.")
            return self.tick()
        self.rooms.go("setup")


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
