"""One of many, found in two touches: the letter it begins with, then its name. What is typed narrows the list at once."""

from pathlib import Path
from unicodedata import combining, normalize

from kivy.lang import Builder
from kivy.properties import DictProperty, ObjectProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.screens.ui.keyboard import Typed
from kiosk.screens.ui.look import Type, look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _

BESIDE = 140            # u of the room's height that its line and its row of keys take
FEW_ACROSS, MANY_ACROSS = (3, 4), (6, 8)    # names, letters: upright, else


class FindScreen(Typed, Room):
    """`names`: what each is called → what it is. `typed` is what its name, or a word of it, has to begin with."""

    names = DictProperty()
    then = ObjectProperty(None, allownone=True)
    so_far = StringProperty()
    back_to = StringProperty("station")
    page = StringProperty()
    wanted = StringProperty()           # what is to be touched: a letter, or where there are few a name
    KEYS = {"backspace": "delete", "enter": "first", "numpadenter": "first", "escape": "back"}

    def of(self, names: dict[str, str], then, letters: str = ""):
        """The room opens for these; `letters` were typed before it was there."""
        self.names, self.then, self.back_to = names, then, self.rooms.current
        self.so_far = letters if narrowed(names, letters) else ""
        self.rooms.go("find")

    def enter(self):
        super().enter()
        self._shown = Paging()

    def show(self):
        grid = self.ids.grid
        rows = look.rows(BESIDE)
        found = narrowed(self.names, self.so_far)
        letters = () if self.so_far or len(found) <= rows * FEW_ACROSS[not look.upright] else initials(self.names)
        self.wanted = _("Touch its first letter, or type it.") if letters else _("Touch it, or type its name.")
        across = (MANY_ACROSS if letters else FEW_ACROSS)[not look.upright]
        shown, room = letters or found, rows * across
        self._shown = self._shown.over(len(shown), room)
        self.page = _("{n} of {all}").format(n=self._shown.page, all=self._shown.pages) if self._shown.pages > 1 else ""
        grid.clear_widgets()
        grid.cols = across
        for words in self._shown.of(shown):
            key = Key(text=words, size_u=Type.body)
            key.bind(on_tap=lambda key: self.typed(key.text) if letters else self.choose(key.text))
            grid.add_widget(key)
        for _place in range(self._shown.blank):
            grid.add_widget(Widget())

    def typed(self, letters: str):
        """Letters that no name goes on with are a slip: what was typed stays."""
        if narrowed(self.names, self.so_far + letters):
            self.so_far, self._shown = self.so_far + letters, Paging()
            self.show()

    def delete(self):
        self.so_far, self._shown = self.so_far[:-1], Paging()
        self.show()

    def turn(self):
        self._shown = self._shown.turned()
        self.show()

    def first(self):
        """Enter takes the name that alone is left."""
        found = narrowed(self.names, self.so_far)
        if len(found) == 1:
            self.choose(found[0])

    def choose(self, name: str):
        what, then = self.names[name], self.then
        self.rooms.go(self.back_to)
        then(what)

    def back(self):
        self.rooms.go(self.back_to)


def narrowed(names, so_far: str) -> list[str]:
    """The names that have a word beginning with what was typed, in the order of their letters."""
    wanted = plain(so_far)
    return sorted((name for name in names if plain(name).startswith(wanted) or any(
        word.startswith(wanted) for word in plain(name).split())), key=plain)


def initials(names) -> list[str]:
    return sorted({plain(name)[:1].upper() for name in names})


def plain(name: str) -> str:
    """Small letters without their accents, so that Zoe finds Zoë."""
    return "".join(each for each in normalize("NFKD", name.strip().casefold()) if not combining(each))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
