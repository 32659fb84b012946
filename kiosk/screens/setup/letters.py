"""A word to write, by keys as large as any other, or on a keyboard that is plugged in: Enter saves, Escape goes back."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from kiosk.screens.ui.keyboard import Typed
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _

LONGEST = 40            # letters of a name; what was longer when it came here may stay so long
LETTERS = N_("QWERTYUIOPASDFGHJKL-ZXCVBNM/:_1234567890")     # a language may have them in another order
OTHERS = "ÄÖÜßÀÁÂÃÅÆÇÈÉÊËÌÍÎÏÑÒÓÔÕØŒÙÚÛÝŁŠŽ-/:_&'+"


class LettersScreen(Typed, Room):
    asked = StringProperty()
    text = StringProperty()
    then = ObjectProperty(None, allownone=True)
    blank = BooleanProperty(False)      # nothing may be written, too
    capitals = BooleanProperty(False)
    others = BooleanProperty(False)
    back_to = StringProperty("setup")
    KEYS = {"backspace": "delete", "enter": "done", "numpadenter": "done", "escape": "back"}

    def on_kv_post(self, _base):
        for letter in LETTERS:
            key = Key(text=letter, again_s=0.1)
            key.bind(on_tap=lambda key: self.add(key.text))
            self.ids.letters.add_widget(key)
        self._lay_out()

    def enter(self):
        super().enter()
        self._most = max(LONGEST, len(self.text))

    def typed(self, letters: str):
        self.text = (self.text + letters)[:self._most]

    def turn_letters(self):
        self.others = not self.others
        self._lay_out()

    def _lay_out(self):
        for key, letter in zip(reversed(self.ids.letters.children), OTHERS if self.others else _(LETTERS)):
            key.text = letter

    def add(self, letter: str):
        first = not self.text or self.text[-1] == " "
        self.typed(letter if first or self.capitals else letter.lower())

    def turn_capitals(self):
        self.capitals = not self.capitals

    def delete(self):
        self.text = self.text[:-1]

    def back(self):
        self.rooms.go(self.back_to)

    def done(self):
        text, then = self.text.strip(), self.then
        self.rooms.go(self.back_to)
        if (text or self.blank) and then is not None:
            then(text)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
