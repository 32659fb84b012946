"""Setup by touch: sections on the left, rows on the right, each with its keys. Every change can be undone."""

from collections.abc import Sequence
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import (
    AliasProperty,
    BooleanProperty,
    NumericProperty,
    ObjectProperty,
    StringProperty,
)
from kivy.uix.widget import Widget

from kiosk.bar.model import NAME_TAKEN
from kiosk.screens.setup.settings import NAME, PIN, SettingRow, sections
from kiosk.screens.ui.ground import Ground
from kiosk.screens.ui.look import Type, look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _

LONG = 40               # letters
BESIDE = 140            # u of the room's height that its last row of keys and what a section affects take


class SettingWidget(Ground):
    """`long` is a value that needs more of the row than others: a caution, say."""

    row = ObjectProperty()
    screen = ObjectProperty()
    long = AliasProperty(lambda self: self.row is not None and len(self.row.value) > LONG, bind=["row"])


class SetupScreen(Room):
    section = NumericProperty(0)
    affects = StringProperty()
    complains = BooleanProperty(False)  # `affects` says what did not fit
    page = StringProperty()             # of the rows, where there are several
    inside = StringProperty()           # the item whose rows are shown, "" for the section's own
    beside = StringProperty()           # what the key beside the rows does
    undoable = BooleanProperty(False)
    _rows = _tabs = Paging()            # where they were left, also while other rooms were open
    _tabs_drawn: tuple = ()

    def enter(self):
        if self.rooms.came_from not in ("letters", "find"):
            self._undo, self._complaint, self._listed = [], "", Paging()

    def show(self):
        all_sections = sections(self.service.setup)
        self.section = min(self.section, len(all_sections) - 1)
        self._shown_section = section = all_sections[self.section]
        item = section.item(self.inside)
        self.inside = item.name if item else ""
        listed = section.shown(self.inside)
        room = look.rows(BESIDE)
        self._rows = self._rows.over(len(listed), room * self.ids.rows.cols)
        places = room * self.ids.tabs.cols
        self._tabs = self._tabs.over(len(all_sections), places if len(all_sections) <= places else places - 1).with_(self.section)
        self.ids.rows.rows = room
        self._draw_rows(self._rows.of(listed))
        self._names = {item.title: item.name for item in section.items}
        self.complains = bool(self._complaint)
        self.affects = self._complaint or (f"{section.name} › {item.title}" if item else section.affects)
        self.beside = _("To the list") if self.inside else _("What it sends") if section.room else _("Find") if section.items else ""
        self.page = _("{n} of {all}").format(n=self._rows.page, all=self._rows.pages) if self._rows.pages > 1 else ""
        self.undoable = bool(self._undo)
        self._draw_tabs(tuple(each.name for each in all_sections))

    def _draw_rows(self, shown: Sequence[SettingRow]):
        """A value that changed is drawn where it stands; other rows are other keys, which take no tap that was meant for these."""
        rows, there = self.ids.rows, [each for each in reversed(self.ids.rows.children) if isinstance(each, SettingWidget)]
        if len(rows.children) == self._rows.room and [each.row.name for each in there] == [row.name for row in shown]:
            for each, row in zip(there, shown):
                each.row = row
            return
        rows.clear_widgets()
        for row in shown:
            rows.add_widget(SettingWidget(row=row, screen=self))
        for _n in range(self._rows.blank):
            rows.add_widget(Widget())

    def _draw_tabs(self, names: tuple[str, ...]):
        """They stay while nothing of them changes."""
        tabs, now = self.ids.tabs, (names, self.section, self._tabs)
        if now == self._tabs_drawn:
            return
        self._tabs_drawn = now
        tabs.clear_widgets()
        for n, name in self._tabs.of(list(enumerate(names))):
            key = Key(text=name, size_u=Type.body, on=n == self.section)
            key.bind(on_tap=lambda key, n=n: self.choose(n))
            tabs.add_widget(key)
        for _n in range(self._tabs.blank):
            tabs.add_widget(Widget())
        if self._tabs.pages > 1:
            more = Key(text=_("More"), kind="quiet", size_u=Type.body)
            more.bind(on_tap=lambda key: self.more_tabs())
            tabs.add_widget(more)

    def choose(self, section: int):
        self.section, self._rows, self._complaint, self.inside = section, Paging(), "", ""
        self.show()

    def look_inside(self, item: str):
        """The rows of one drink, person or task; "" for the list again, where it was left."""
        self._listed, self._rows = (self._rows, Paging()) if item else (self._listed, self._listed)
        self.inside, self._complaint = item, ""
        self.show()

    def go_beside(self):
        if self.inside:
            self.look_inside("")
        elif self._shown_section.room:
            self.rooms.go(self._shown_section.room)
        else:
            self.rooms.find(self._names, self.look_inside)

    def more_tabs(self):
        self._tabs = self._tabs.turned()
        self.choose(self._tabs.first)

    def turn(self):
        self._rows = self._rows.turned()
        self.show()

    def change(self, change):
        path, value = change
        before = self.service.book.settings.get(path[0])
        return self._changed(path[0], before, self.service.set_setting(path, value))

    def _changed(self, head: str, before, complaints: tuple[str, ...]) -> bool:
        """Whether it fits."""
        self._complaint = _(complaints[0]) if complaints else ""
        if not complaints:
            self._undo.append((head, before))
        self.show()
        return not complaints

    def undo(self):
        if self._undo:
            head, before = self._undo.pop()
            self.service.set_setting((head,), before)
            self._complaint = ""
            self.show()

    def touch(self, row: SettingRow):
        """What the key of a row does."""
        if row.opens:
            self.look_inside(row.opens)
        elif row.more:
            self.change(row.more)
        else:
            self.write(row)

    def write(self, row: SettingRow):
        if row.write == PIN:
            return self.rooms.set_pin()
        there = "" if row.write[-1] == "?" else row.value if row.written is None else row.written
        item = self._shown_section.item(self.inside)
        self.rooms.write(f"{item.title}: {row.name}" if item else row.name, there, lambda text: self._written(row, text, there), row.blank)

    def _written(self, row: SettingRow, text: str, there: str):
        self._complaint = ""
        if text == there:
            return self.show()              # saved as it stood: words of the kiosk's own stay its own, in every language
        *head, last = row.write
        kind, before = head[0], self.service.book.settings.get(head[0])
        if last not in (NAME, "?"):
            self.change((row.write, text))
        elif head[-1] == "portafilters":
            self._changed(kind, before, self.service.add_portafilter(text))
        elif text.casefold() in {item.title.casefold() for item in self._shown_section.items if item.name != self.inside}:
            self._changed(kind, before, (NAME_TAKEN,))          # a word of the kiosk's own may be shown as what is written
        elif last == "?":
            if self._changed(kind, before, self.service.add(kind, text)) and self._shown_section.item(text):
                self.look_inside(text)
        else:
            complaints = self.service.rename(kind, head[1], text)
            self.inside = head[1] if complaints else text
            self._changed(kind, before, complaints)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
