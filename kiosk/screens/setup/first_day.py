"""A new bar's first light: four questions, each of which can be skipped, and where Setup is for everything else."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import NumericProperty, StringProperty

from kiosk.bar.model import COARSER
from kiosk.screens.ui.look import Type
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _

QUESTIONS = (N_("What number does the grinder show?"), N_("Which coffee is in the hopper?"), N_("Who works here?"),
             N_("Is there a scale under the cup?"))
GRINDER, COFFEE, WHO, SCALE = range(4)


class FirstDayScreen(Room):
    """`asked` is the question that is shown."""

    asked = NumericProperty(GRINDER)
    place = StringProperty()
    question = StringProperty()
    answer = StringProperty()
    complaint = StringProperty()        # what did not fit, until something does

    def enter(self):
        if self.rooms.came_from != "letters":
            self.asked = GRINDER

    def show(self):
        setup = self.service.setup
        grinder = setup.grinders[0]
        self.place = _("{n} of {all}").format(n=self.asked + 1, all=len(QUESTIONS))
        self.question = _(QUESTIONS[self.asked])
        self.answer = (str(grinder.shown), grinder.coffee, ", ".join(person.name for person in setup.staff[-3:]),
                       self._scale())[self.asked]
        keys = self.ids.answers
        keys.clear_widgets()
        for words, then in self._answers():
            key = Key(text=words, size_u=Type.head if len(words) < 3 else Type.body, again_s=0.1)
            key.bind(on_tap=lambda _key, then=then: then())
            keys.add_widget(key)

    def _scale(self) -> str:
        return _("no scale") if not self.service.setup.scale.url else _("yes") if self.service.scales.first.there else _("look for one")

    def _answers(self):
        if self.asked == GRINDER:
            return (("–", lambda: self._turn(-1)), ("+", lambda: self._turn(1)))
        if self.asked == COFFEE:
            return ((_("Type it"), lambda: self.rooms.write(self.question, "", lambda text: self._grinder("coffee", text))),)
        if self.asked == WHO:
            return ((_("Type it"), lambda: self.rooms.write(self.question, "", self._joins)),)
        return ((_("Look for one"), lambda: self._set(("scale", "url"), "auto")), (_("No scale"), lambda: self._set(("scale", "url"), "")))

    def _turn(self, by: int):
        grinder = self.service.setup.grinders[0]
        self._grinder("setting", grinder.setting + (by if grinder.collar_rises == COARSER else -by))

    def _grinder(self, what: str, value):
        self._set(("grinders", self.service.setup.grinders[0].name, what), value)

    def _joins(self, name: str):
        """Whoever writes their name here is at work; nobody is a new hire on the first day of a bar by themselves."""
        if self._fits(self.service.add("staff", name, new=False)):
            self.service.choose(name)
            self.show()

    def _set(self, path, value):
        self._fits(self.service.set_setting(path, value))

    def _fits(self, complaints: tuple[str, ...]) -> bool:
        self.complaint = _(complaints[0]) if complaints else ""
        self.show()
        return not complaints

    def next(self):
        if self.asked == SCALE:
            return self.rooms.home()
        self.asked, self.complaint = self.asked + 1, ""
        self.show()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
