"""The milk of a new hire's drink: a step a page, beside the coffee's own, which comes back when its stop is due."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import NumericProperty, StringProperty

from kiosk.bar.training import MILK_STEPS, milk_allergens, takes_milk
from kiosk.screens.barista.told import cued
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, drink_words


class MilkScreen(Room):
    """`at` is the page; whoever is called away to the coffee comes back to it, as long as it is the same pull."""

    at = NumericProperty(0)
    place = StringProperty()
    title = StringProperty()
    picture = StringProperty()
    what = StringProperty()
    why = StringProperty()
    caution = StringProperty()
    sign = StringProperty()
    next_text = StringProperty()
    _pull: str | None = None
    _wrong: str | None = None

    def enter(self):
        lane = self.service.lanes.coached()
        pull = lane and lane.work.key
        if pull != self._pull:
            self._pull, self.at = pull, 0
        self._wrong = self._trouble(lane)

    def show(self):
        lane = self.service.lanes.coached()
        drinks = [drink for drink in lane.work.planned.drinks if takes_milk(drink)] if lane else []
        step = MILK_STEPS[self.at]
        self.place = _("Milk, step {n} of {all}").format(n=self.at + 1, all=len(MILK_STEPS))
        names = " + ".join(dict.fromkeys(drink_words(drink.name) for drink in drinks))
        self.title = f"{lane.group} · {names}" if lane else ""
        self.picture, self.sign = step.picture, step.sign
        self.what, self.why = _(step.what), _(step.why)
        self.caution = _(step.caution) or self._contained(drinks)
        self.next_text = _("Next step") if self.at < len(MILK_STEPS) - 1 else _("Poured")

    def _contained(self, drinks) -> str:
        allergens = ", ".join(_(each) for each in milk_allergens(drinks))
        contains = _("Contains {what}").format(what=allergens) + ". " if allergens else ""
        return contains + _("Milk, soya, oats (gluten) and nuts must be declared; local rules count. A jug for each.")

    def _trouble(self, lane) -> str | None:
        wrong = self.service.lanes.trouble(lane.group) if lane else None
        return wrong and wrong.what

    def tick(self):
        lane = self.service.lanes.coached()
        if lane is None or lane.work.key != self._pull or cued(lane.work, self.service.clock.s()) \
                or self._trouble(lane) not in (None, self._wrong):
            self.rooms.home()

    def tap_next(self):
        if self.at < len(MILK_STEPS) - 1:
            self.at += 1
            self.show()
        else:
            self.at = 0
            self.rooms.home()

    def back(self):
        self.at = max(self.at - 1, 0)
        self.show()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
