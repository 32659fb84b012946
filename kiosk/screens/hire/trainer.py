"""The trainer's look at one person: the record, what the help goes by, and the sign-off."""

from pathlib import Path

from kivy.clock import mainthread
from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.bar.model import BY_RULE, EVERY, Noted, Pull, Step
from kiosk.bar.model.setup import FIVE
from kiosk.bar.training import CAUSES, IN_WINDOW, LOOKED_AT, RIGHT_DOSES, STEADY_PULLS, Score, Training, training
from kiosk.screens.hire.practice import CAUSE_WORDS
from kiosk.screens.ui.look import Type
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, STEP_WORDS, _

DAYS = 60               # back
HELP_WORDS = {BY_RULE: N_("Help: by the rule"), EVERY: N_("Help: every step"), FIVE: N_("Help: five steps")}


class ToldRow(BoxLayout):
    """One cause of the practice bar: how often it was told, and what it was taken for."""

    what = StringProperty()
    told = StringProperty()
    mixed = StringProperty()


class StepSecondsRow(BoxLayout):
    what = StringProperty()
    told = StringProperty()


class TrainerScreen(Room):
    person = StringProperty()
    title = StringProperty()
    rule = StringProperty()
    lines = StringProperty()
    apart = StringProperty()
    signing = BooleanProperty(False)

    def enter(self):
        staff = self.service.setup.staff
        at_work = self.service.setup.person(self.service.barista)
        hires = [each for each in staff if each.new]
        chosen = at_work if at_work in hires else next(iter(hires or staff), None)
        self._choose(chosen.name if chosen else "")

    def _choose(self, name: str):
        self.person, self.signing, self._signed_here = name, False, False
        self.title, self.lines, self.apart = name or _("No staff yet: add them under Setup."), "", ""
        self.ids.told.clear_widgets()
        self.ids.steps.clear_widgets()
        self._draw()
        if name:
            self.lines = _("Adding up …")
            self.service.aside.begin("sums", lambda: self._add_up(name), lambda: self._failed(name))

    def _add_up(self, name: str):
        book = self.service.book
        days = [book.day(day) for day in book.days()[-DAYS:]]
        self._show(training(name, (pull for day in days for pull in day.of(Pull, traces=False)),
                            (noted for day in days for noted in day.of(Noted))))

    @mainthread
    def _failed(self, name: str):
        if name == self.person:
            self.lines = _("This could not be added up. The records are kept: have the kiosk's log looked at.")

    @mainthread
    def _show(self, found: Training):
        if found.name == self.person:
            self.lines = "\n".join(record_lines(found))
            for each in found.step_s:
                self.ids.steps.add_widget(StepSecondsRow(
                    what=_(STEP_WORDS[Step(each.step)].short), told=f"{each.first_s:.0f} › {each.latest_s:.0f}"))
            self._show_told(found.score)
            self._draw(found)

    def _show_told(self, score: Score):
        self.apart = _("Right at the practice bar: {n} of {all}").format(n=score.told, all=score.lessons) \
            if score.lessons else _("No practice yet.")
        for cause in CAUSES if score.lessons else ():
            mixed = ", ".join(f"{_(CAUSE_WORDS[said])} {n}" for said, n in score.taken_for(cause)[:2])
            met = score.met(cause)
            self.ids.told.add_widget(ToldRow(what=_(CAUSE_WORDS[cause]), mixed=mixed,
                                             told=f"{score.right(cause)} / {met}" if met else "–"))

    def _draw(self, found: Training | None = None):
        teaching, person = self.service.teaching, self.service.setup.person(self.person)
        keys = self.ids.choices
        keys.clear_widgets()
        if person is None:
            return keys.add_widget(_key(_("Back"), self.rooms.home, "next"))
        self.rule = self._rule_told(person)
        if found is not None and found.signed is not None:
            self.title = _("{name}, signed off by {trainer} on {day}").format(name=found.name, trainer=found.signed.by,
                                                                             day=found.signed.at[:10])
        if self.signing:
            for each in self.service.setup.staff:
                if each.name != self.person and not each.new:
                    keys.add_widget(_key(each.name, lambda name=each.name: self.sign(name), "next"))
            return keys.add_widget(_key(_("Nobody"), self.start_signing))
        keys.add_widget(_key(_("Back"), self.rooms.home))
        keys.add_widget(_key(_("Next person"), self.next_person))
        keys.add_widget(_key(_(HELP_WORDS[person.help]), self.next_help))
        if self._signed_here:
            keys.add_widget(_key(_("Undo"), self.undo))
        else:
            signed = teaching.signed_by(self.person) is not None
            keys.add_widget(_key(_("Sign again") if signed else _("Sign off"), self.start_signing))

    def _rule_told(self, person) -> str:
        teaching = self.service.teaching
        if self.signing:
            return _("Who signs that {name} can work by the five steps?").format(name=person.name)
        now = _("Sees every step now.") if teaching.every_step(person) else _("Sees five steps now.")
        if person.help != BY_RULE:
            return f"{now} {_('Set by hand, whatever the rule says.')}"
        if teaching.signed_by(person.name) is not None:
            return f"{now} {_('A sign-off stands above the rule.')}"
        if not person.new:
            return f"{now} {_('Not new here.')}"
        steady = teaching.steadiness(person.name)
        rule = _("Every step until signed off, or until {need} pulls ({pulls} so far), the last {last} with every step done "
                 "({clean}), {good} of them in window ({in_window}) and {right} of {last} weighed doses right ({right_now} "
                 "of {weighed}).")
        return f"{now} " + rule.format(need=STEADY_PULLS, pulls=steady.pulls, last=LOOKED_AT, clean=steady.clean,
                                       good=IN_WINDOW, in_window=steady.in_window, right=RIGHT_DOSES, right_now=steady.right, weighed=steady.weighed)

    # ---- what a finger does ---------------------------------------------------------------------------------------

    def next_person(self):
        names = [person.name for person in self.service.setup.staff]
        self._choose(names[(names.index(self.person) + 1) % len(names)])

    def next_help(self):
        ways = list(HELP_WORDS)
        way = ways[(ways.index(self.service.setup.person(self.person).help) + 1) % len(ways)]
        self.service.set_setting(("staff", self.person, "help"), way)
        self._draw()

    def start_signing(self):
        self.signing = not self.signing
        self._draw()

    def sign(self, trainer: str):
        self.service.teaching.sign_off(self.person, trainer)
        self._choose(self.person)
        self._signed_here = True
        self._draw()

    def undo(self):
        self.service.teaching.undo_sign_off()
        self._choose(self.person)


def record_lines(found: Training) -> list[str]:
    """The record in short lines, what there is to see of it."""
    lines = [_("1 pull") if found.pulls == 1 else _("{n} pulls").format(n=found.pulls)]
    if found.doses:
        spread = _(", spread {g:.1f} g").format(g=found.dose_sd_g) if found.dose_sd_g is not None else ""
        lines.append(_("Doses right: {right} of {n}").format(right=found.doses_right, n=found.doses) + spread)
    if found.pulls:
        skipped = ", ".join(f"{_(STEP_WORDS[Step(step)].short)} {n}" for step, n in found.skipped)
        lines.append(_("Steps skipped: {what}").format(what=skipped or _("none")))
    if found.step_s:
        lines.append(_("Seconds a step, first pulls › latest:"))
    return lines


def _key(words, then, kind="plain") -> Key:
    key = Key(text=words, kind=kind, size_u=Type.body)
    key.bind(on_tap=lambda key: then())
    return key


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
