"""A ticket from the till that was not understood: its lines as they came; touch one and say what it is."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, StringProperty

from kiosk.bar.model.ticket import CHANGE, DRINK, NOTHING, NUMBER, VOID
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _, drink_words

LINES, MEANINGS = 9, 12
KINDS = {NUMBER: N_("Number or table"), NOTHING: N_("Nothing"), VOID: N_("Cancels it")}


class TillScreen(Room):
    """`line` is the one that is being told, "" while the ticket's lines are shown."""

    told = StringProperty()
    line = StringProperty()
    page = NumericProperty(0)
    more = BooleanProperty(False)
    twice = BooleanProperty(False)

    def enter(self):
        self.line, self.page, self._shown = "", 0, None

    def show(self):
        tickets = self.service.till.open
        if not tickets:
            self.rooms.home()
            return
        ticket = tickets[0]
        state = ticket, self.line, self.page, len(tickets)
        if state == self._shown:
            return
        self._shown, self.id_shown = state, ticket.id
        self.twice = bool(ticket.why)
        keys = self.ids.grid
        keys.clear_widgets()
        if self.line:
            self.told = _("What is “{line}”?").format(line=self.service.till.asks(self.line))
            choices = self._choices()
            self.more = len(choices) > MEANINGS
            for words, meaning in choices[self.page * MEANINGS:(self.page + 1) * MEANINGS]:
                self._key(words, lambda meaning=meaning: self.mean(meaning), meaning in KINDS)
            return
        label = f"{ticket.label}. " if ticket.label else ""
        self.told = label + (_(ticket.why) if ticket.why else _("Touch a line and say what it is. What stands here was not ordered yet."))
        self.more = len(ticket.lines) > LINES
        for line in ticket.lines[self.page * LINES:(self.page + 1) * LINES]:
            meaning = self.service.till.meaning(line)
            means = _(KINDS[meaning]) if meaning in KINDS else drink_words(meaning.partition(":")[2])
            self._key(line.strip(), lambda line=line: self.ask(line), bool(means), means)

    def _choices(self) -> list[tuple[str, str]]:
        setup = self.service.setup
        return [*((_(words), kind) for kind, words in KINDS.items()),
                *((drink_words(drink.name), f"{DRINK}:{drink.name}") for drink in setup.menu),
                *((_(change.name), f"{CHANGE}:{change.name}") for change in setup.all_changes)]

    def _key(self, words: str, tapped, quiet: bool = False, under: str = ""):
        key = Key(text=words, under=under, kind="quiet" if quiet else "plain")
        key.bind(on_tap=lambda _key: tapped())
        self.ids.grid.add_widget(key)

    def ask(self, line: str):
        self.line, self.page = line, 0
        self.show()

    def mean(self, meaning: str):
        words, self.line, self.page = self.service.till.asks(self.line), "", 0
        self.service.till.teach(words, meaning, self.service.set_setting)
        self.show()

    def turn(self):
        count = len(self._choices()) if self.line else len(self.service.till.open[0].lines)
        self.page = (self.page + 1) % -(-count // (MEANINGS if self.line else LINES))
        self.show()

    def leave(self):
        self.service.till.leave(self.id_shown)
        self.show()

    def key_it(self):
        """The order is keyed by hand, and the ticket is done with."""
        self.service.till.leave(self.id_shown)
        self.rooms.go("orders")

    def make(self):
        self.service.till.make(self.id_shown)
        self.show()

    def back(self):
        if self.line:
            self.line, self.page = "", 0
            self.show()
        else:
            self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
