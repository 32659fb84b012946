"""Dialling in a grinder at opening: where it starts and why, up to three tasting shots with their taste, and accept."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from kiosk.bar.drift.taste import RIGHT
from kiosk.bar.model import judge
from kiosk.screens.barista.taste import TASTE_WORDS
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, judged
from kiosk.station.dialling import MOST_SHOTS


class DialScreen(Room):
    """`grinder_name` is the one that is dialled in."""

    grinder_name = StringProperty()
    title = StringProperty()
    start = StringProperty()
    shots = StringProperty()
    advice = StringProperty()
    tastable = BooleanProperty(False)   # the last shot was not tasted yet
    enough = BooleanProperty(False)     # no more shots
    ready = BooleanProperty(False)      # a shot was tasted: it can be accepted
    strong = StringProperty("shot")     # what to touch next: "shot", "back" to where one waits, "taste" or "accept"

    def of(self, grinder_name: str):
        self.grinder_name = grinder_name
        self.rooms.go("dial")

    def _grinder(self):
        return self.service.setup.grinder(self.grinder_name) or self.service.setup.grinders[0]

    def show(self):
        grinder = self._grinder()
        self.title = _("Dial in · {grinder}, {coffee}").format(grinder=grinder.name, coffee=grinder.coffee)
        morning = next((each for each in self.service.notes.morning if each.grinder == grinder.name), None)
        stands = _("It stands at {shown}.").format(shown=grinder.shown)
        self.start = f"{stands} {_(morning.words)}. {_(morning.why)}" if morning else \
            f"{stands} {_('Nothing from yesterday says otherwise.')}"
        shots, accepted = self.service.dialling.told(grinder)
        self.shots = "\n".join(f"{n} · {judged(judge(pull))} · {_(TASTE_WORDS[found]) if found else '–'}"
                               for n, (pull, found) in enumerate(shots[-MOST_SHOTS:], start=1))
        pull, found = shots[-1] if shots else (None, None)
        self._last = pull
        self.tastable, self.ready = pull is not None and found is None, found is not None
        due = self.service.orders.tasting_shots_due(grinder)
        self.enough = len(shots) + due >= MOST_SHOTS
        self.strong = "taste" if self.tastable else "back" if due else "accept" if self.enough or found == RIGHT else "shot"
        self.advice = _(self.service.tasting.says(pull, found).change) if found else \
            _("Taste it: sip, then stir and sip again.") if pull else \
            _("A tasting shot waits: pull it, then taste it.") if due else \
            _("Accepted at {time}.").format(time=accepted.at[11:16]) if accepted else _("Pull a shot for nobody and taste it.")

    def next_grinder(self):
        names = [grinder.name for grinder in self.service.setup.grinders]
        self.grinder_name = names[(names.index(self._grinder().name) + 1) % len(names)]
        self.show()

    def pull(self):
        self.service.orders.tasting_shot(self._grinder())
        self.rooms.home()

    def taste(self):
        self.rooms.room("taste").of(self._last)

    def accept(self):
        self.service.dialling.accept(self._grinder())


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
