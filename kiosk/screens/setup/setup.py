"""Setup by touch: sections on the left, rows on the right, each with its keys. Every change can be undone."""

from pathlib import Path

from kivy.core.window import Window
from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    NumericProperty,
    ObjectProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.setup.settings import PIN, SettingRow, sections, whole
from kiosk.screens.ui.ground import Ground
from kiosk.screens.ui.look import Type, look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _

BESIDE = 140            # u of the room's height that its last row of keys and what a section affects take
LONGEST = 40            # letters of a name


class SettingWidget(Ground):
    row = ObjectProperty()
    screen = ObjectProperty()


class SetupScreen(Room):
    section = NumericProperty(0)
    first = NumericProperty(0)
    first_tab = NumericProperty(0)
    affects = StringProperty()
    page = StringProperty()             # of the rows, where there are several
    undoable = BooleanProperty(False)

    def enter(self):
        self._undo: list = []
        self._complaint = ""
        self.show()

    def show(self):
        all_sections = sections(self.service.setup)
        self.section = min(self.section, len(all_sections) - 1)
        section = all_sections[self.section]
        if self.first >= len(section.rows):
            self.first = 0
        rows = look.rows(BESIDE)
        self._at_once = rows - 1           # tabs: the last place turns them
        self.ids.rows.clear_widgets()
        shown = section.rows[self.first:self.first + rows]
        for row in shown:
            self.ids.rows.add_widget(SettingWidget(row=row, screen=self))
        for _n in range(rows - len(shown)):
            self.ids.rows.add_widget(BoxLayout())
        self._per_page, self._rows, self._tabs = rows, len(section.rows), len(all_sections)
        self.affects = self._complaint or section.affects
        pages = -(-len(section.rows) // rows)
        self.page = _("{n} of {all}").format(n=self.first // rows + 1, all=pages) if pages > 1 else ""
        self.undoable = bool(self._undo)
        tabs = self.ids.tabs
        tabs.clear_widgets()
        for n, each in list(enumerate(all_sections))[self.first_tab:self.first_tab + self._at_once]:
            key = Key(text=each.name, size_u=Type.body, on=n == self.section)
            key.bind(on_tap=lambda key, n=n: self.choose(n))
            tabs.add_widget(key)
        for _n in range(self._at_once - len(tabs.children)):
            tabs.add_widget(BoxLayout())

    def choose(self, section: int):
        self.section, self.first, self._complaint = section, 0, ""
        self.show()

    def more_tabs(self):
        self.first_tab = self.first_tab + self._at_once if self.first_tab + self._at_once < self._tabs else 0
        self.choose(self.first_tab)

    def turn(self):
        self.first = self.first + self._per_page if self.first + self._per_page < self._rows else 0
        self.show()

    def change(self, change):
        path, value = change
        before = self.service.book.settings.get(path[0])
        complaints = self.service.set_setting(*self._complete(path, value))
        self._complaint = _(complaints[0]) if complaints else ""
        if not complaints:
            self._undo.append((path[0], before))
        self.show()

    def _complete(self, path, value):
        """A change inside a list that was at its default writes the whole list, so that nothing of it is lost."""
        kept = self.service.book.settings.get(path[0])
        written = whole(self.service.setup, path)
        if written is None or kept is not None or len(path) == 1:
            return path, value
        inner = written
        for part in path[1:-1]:
            inner = inner.setdefault(part, {})
        inner[path[-1]] = value
        return (path[0],), {name: each for name, each in written.items() if each is not None}

    def undo(self):
        if self._undo:
            head, before = self._undo.pop()
            self.service.set_setting((head,), before)
            self._complaint = ""
            self.show()

    def write(self, row: SettingRow):
        if row.write == PIN:
            return self.rooms.set_pin()
        there = row.value if row.written is None else row.written
        self.rooms.write(row.name, "" if row.write[-1] == "?" else there, lambda text: self._written(row, text))

    def _written(self, row: SettingRow, text: str):
        *head, last = row.write
        if last != "?":
            return self.change((row.write, text))
        if head[-1] == "portafilters":
            latest = self.service.weighing.latest
            if latest is None or latest.grams < 100:
                self._complaint = _("Set the empty portafilter on the scale, wait until it rests, then write its name.")
                return self.show()
            return self.change(((*head, text), round(latest.grams, 1)))
        fresh = {"grinders": {"coffee": text}, "menu": {"shot": "single"}, "changes": {"cup": ""}, "staff": {"new": True}}[head[0]]
        return self.change(((*head, text), fresh))


LETTERS = N_("QWERTYUIOPASDFGHJKL-ZXCVBNM/:_1234567890")     # a language may have them in another order
OTHERS = "ÄÖÜßÀÁÂÃÅÆÇÈÉÊËÌÍÎÏÑÒÓÔÕØŒÙÚÛÝŁŠŽ-/:_&'+"


KEYBOARD = {"backspace": "delete", "enter": "done", "numpadenter": "done", "escape": "back"}


class LettersScreen(Room):
    """A word to write, by keys as large as any other, or on a keyboard that is plugged in."""

    asked = StringProperty()
    text = StringProperty()
    then = ObjectProperty(None, allownone=True)
    capitals = BooleanProperty(False)
    back_to = StringProperty("setup")

    others = BooleanProperty(False)

    def on_kv_post(self, _base):
        for letter in LETTERS:
            key = Key(text=letter, again_s=0.1)
            key.bind(on_tap=lambda key: self.add(key.text))
            self.ids.letters.add_widget(key)
        self._lay_out()

    def enter(self):
        """A plugged-in keyboard writes here as its own layout has it; Enter saves, Escape goes back."""
        keyboard = Window.request_keyboard(lambda: None, self)
        keyboard.bind(on_textinput=self._typed, on_key_down=self._key)
        self._keyboard = keyboard

    def closed(self):
        self._keyboard.unbind(on_textinput=self._typed, on_key_down=self._key)
        self._keyboard.release()

    def _typed(self, _keyboard, text: str):
        self.text = (self.text + "".join(each for each in text if each.isprintable()))[:LONGEST]

    def _key(self, _keyboard, key: tuple[int, str], *_rest) -> bool:
        if key[1] in KEYBOARD:
            getattr(self, KEYBOARD[key[1]])()
        return True

    def turn_letters(self):
        self.others = not self.others
        self._lay_out()

    def _lay_out(self):
        for key, letter in zip(reversed(self.ids.letters.children), OTHERS if self.others else _(LETTERS)):
            key.text = letter

    def add(self, letter: str):
        first = not self.text or self.text[-1] == " "
        self.text = (self.text + (letter if first or self.capitals else letter.lower()))[:LONGEST]

    def turn_capitals(self):
        self.capitals = not self.capitals

    def delete(self):
        self.text = self.text[:-1]

    def back(self):
        self.rooms.go(self.back_to)

    def done(self):
        text, then = self.text.strip(), self.then
        self.rooms.go(self.back_to)
        if text and then is not None:
            then(text)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
