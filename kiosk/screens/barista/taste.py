"""One touch after a pull: how it tasted; and what to change first, if anything."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import NumericProperty, StringProperty

from kiosk.bar.drift.taste import BITTER, BOTH, EY_WINDOW, HARSH, RIGHT, SOUR, THIN, extraction_yield
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _, amount, drink_words, judged, number

TASTE_WORDS = {SOUR: N_("Sour"), BITTER: N_("Bitter"), BOTH: N_("Sour and bitter"), THIN: N_("Thin"), HARSH: N_("Harsh, dry"),
               RIGHT: N_("Right")}
USUAL_TDS = 9.0


class TasteScreen(Room):
    """`tds` is what a refractometer shows, 0 for none."""

    title = StringProperty()
    why = StringProperty()
    change = StringProperty()
    tds = NumericProperty(0)
    tds_words = StringProperty()

    def of(self, pull):
        """The room opens for that pull."""
        self._pull = pull
        self.rooms.go("taste")

    _pull = None

    def on_kv_post(self, _base):
        for found, words in TASTE_WORDS.items():
            key = Key(text=_(words))
            key.bind(on_tap=lambda key, found=found: self.taste(found))
            self.ids.tastes.add_widget(key)

    def enter(self):
        self.why = self.change = ""
        self.tds, self._found = 0, ""
        for key in self.ids.tastes.children:
            key.on = False
        pull, lane = self._pull, next((each for each in self.service.lanes.values() if each.last is self._pull), None)
        said = judged(lane.last_said) if lane is not None and lane.last_said is not None else ""
        self.title = "  ".join(part for part in (drink_words(" + ".join(pull.drinks)), said) if part) if pull else ""
        self._tds_told()

    def taste(self, found: str):
        self._found = found
        for key, each in zip(reversed(self.ids.tastes.children), TASTE_WORDS):
            key.on = each == found
        said = self.service.tasting.keep(self._pull, found, self.tds or None)
        self.why, self.change = _(said.why), _(said.change)

    def back(self):
        """To the grinder that is dialled in, where that is what the taste is for."""
        self.rooms.go("dial") if self.rooms.came_from == "dial" else self.rooms.home()

    def add_tds(self, percent: float):
        self.tds = round(min(20.0, max(0.0, (self.tds or USUAL_TDS) + percent)), 1)
        self._tds_told()

    def _tds_told(self):
        pull = self._pull
        self.tds_words = _("TDS, where you measure it")
        if self.tds:
            self.tds_words = f"TDS {number(self.tds, '.1f')} %"
            if pull is not None and pull.yield_g and pull.dose_g:
                found = extraction_yield(self.tds, pull.yield_g, pull.dose_g)
                low, high = EY_WINDOW
                self.tds_words += ", " + _("extraction {found} ({low:.0f}–{high:.0f} %)").format(
                    found=amount(found, ".1f", "%"), low=low, high=high)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
