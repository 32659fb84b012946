"""The trainer's look at one person: the record, what the help goes by, and the sign-off."""

from pathlib import Path

from kivy.clock import mainthread
from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.bar.model import BY_RULE, EVERY, EVERY_STEP, Step, service_day
from kiosk.bar.model.setup import FIVE
from kiosk.bar.training import CAUSES, IN_WINDOW, LOOKED_AT, RIGHT_DOSES, STEADY_PULLS, Score, Training
from kiosk.screens.hire.causes import CAUSE_WORDS
from kiosk.screens.ui.look import Type
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, STEP_WORDS, _
from kiosk.station import certificates
from kiosk.station.teaching import training_of

DAYS = 60               # back
MOST_TOLD = 9           # faults of the practice bar that are listed, those missed most often first
HELP_WORDS = {BY_RULE: N_("Help: automatic"), EVERY: N_("Help: every step"), FIVE: N_("Help: five steps")}
MOST_LESSONS = 3        # of a trainer's, the latest
MOST_TRAINERS = 5       # that have a key each, beside Nobody


class ToldRow(BoxLayout):
    """One cause of the practice bar: how often it was told, and what it was taken for; or a trainer's lesson, what it came to and
    when."""

    what = StringProperty()
    told = StringProperty()
    mixed = StringProperty()
    missed = BooleanProperty(True)


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
        if self.rooms.came_from == "find":
            return self._draw()             # what was found there goes on with it
        staff = self.service.setup.staff
        at_work = self.service.setup.person(self.service.barista)
        hires = [each for each in staff if each.new]
        chosen = at_work if at_work in hires else next(iter(hires or staff), None)
        self._choose(chosen.name if chosen else "")

    def _choose(self, name: str):
        self.person, self.signing, self._signed_here, self._watcher, self._found = name, False, False, "", None
        self.title, self.lines, self.apart = name or _("No staff yet: add them under Setup."), "", ""
        self.ids.told.clear_widgets()
        self.ids.steps.clear_widgets()
        self._draw()
        self.ask_no_more()
        if name:
            self.lines, book = _("Adding up …"), self.service.book
            self.ask(lambda: training_of(book, name, DAYS), self._show, self._failed)

    def _failed(self):
        self.lines = _("This could not be added up. The records are kept: have the kiosk's log looked at.")

    def _show(self, found: Training):
        self._found = found
        self.lines = "\n".join(record_lines(found))
        for each in found.step_s:
            self.ids.steps.add_widget(StepSecondsRow(
                what=_(STEP_WORDS[Step(each.step)].short), told=f"{each.first_s:.0f} › {each.latest_s:.0f}"))
        for done in found.lessons[-MOST_LESSONS:]:
            self.ids.told.add_widget(ToldRow(what=_(done.lesson), mixed=done.day, missed=False, told=f"{done.right} / {done.of}"))
        self._show_told(found.score, MOST_TOLD - len(self.ids.told.children))
        self._draw(found)

    def _show_told(self, score: Score, most: int):
        self.apart = _("Right at the practice bar: {n} of {all}").format(n=score.told, all=score.lessons) \
            if score.lessons else _("No practice yet.")
        met = sorted(filter(score.met, CAUSES), key=lambda cause: score.right(cause) / score.met(cause))
        for cause in met[:most]:
            mixed = ", ".join(f"{_(CAUSE_WORDS[said])} {n}" for said, n in score.taken_for(cause)[:2])
            self.ids.told.add_widget(ToldRow(what=_(CAUSE_WORDS[cause]), mixed=mixed,
                                             told=f"{score.right(cause)} / {score.met(cause)}"))

    def _draw(self, found: Training | None = None):
        teaching, person = self.service.teaching, self.service.setup.person(self.person)
        keys = self.ids.choices
        keys.clear_widgets()
        if person is None:
            return keys.add_widget(_key(_("Back"), self.rooms.home, "next"))
        self.rule = self._rule_told(person)
        if found is not None and found.signed is not None:
            self.title = _("{name}, signed off by {trainer} on {day}").format(name=found.name, trainer=found.signed.by,
                                                                              day=service_day(found.signed.at))
        if self.signing:
            for name in self._trainers()[:MOST_TRAINERS]:
                keys.add_widget(_key(name, lambda name=name: self.trained_by(name), "next"))
            return keys.add_widget(_key(_("Nobody"), self.start_signing))
        if self._watcher:
            for step in EVERY_STEP:
                keys.add_widget(_key(_(STEP_WORDS[step].short), lambda step=step: self.tick_off(step), on=str(step) in self._seen))
            return keys.add_widget(_key(_("Done"), lambda: self._choose(self.person), "next"))
        keys.add_widget(_key(_("Back"), self.rooms.home))
        keys.add_widget(_key(_("Person…"), self.find_person))
        keys.add_widget(_key(_(HELP_WORDS[person.help]), self.next_help))
        keys.add_widget(_key(_("Lesson…"), self.find_lesson))
        keys.add_widget(_key(_("Watch"), self.start_watching))
        keys.add_widget(_key(_("Certificate"), self.write_certificate, enabled=self._found is not None))
        if self._signed_here:
            keys.add_widget(_key(_("Undo"), self.undo))
        else:
            signed = teaching.signed_by(self.person) is not None
            keys.add_widget(_key(_("Sign again") if signed else _("Sign off"), self.start_signing))

    def _trainers(self) -> list[str]:
        return [each.name for each in self.service.setup.staff if each.name != self.person and not each.new]

    def _rule_told(self, person) -> str:
        teaching = self.service.teaching
        if self.signing and not self._trainers():
            return _("Nobody here can sign: add a trainer under Setup, Staff, who is not new.")
        if self.signing:
            asked = _("Who watches {name}?") if self._to_watch else _("Who signs that {name} can work by the five steps?")
            open_to_all = "" if self.service.pin.there else " " + _("Without a PIN anyone can: set one under Setup, Evening.")
            return asked.format(name=person.name) + open_to_all
        if self._watcher:
            return _("{trainer} watches {name}: touch each step that was done right.").format(trainer=self._watcher, name=person.name)
        now = _("Sees every step now.") if teaching.every_step(person) else _("Sees five steps now.")
        if person.lesson:
            now = f"{_('Lesson: {lesson}.').format(lesson=person.lesson)} {now}"
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

    def find_person(self):
        self.rooms.find({person.name: person.name for person in self.service.setup.staff}, self._choose)

    def find_lesson(self):
        """One of those put together under Setup, for this person's next time at the practice bar."""
        lessons = {lesson.name: lesson.name for lesson in self.service.setup.lessons}
        if not lessons:
            self.rule = _("No lesson yet: put one together under Setup, Lessons.")
        else:
            self.rooms.find(lessons | {_("No lesson"): ""}, self.give)

    def next_help(self):
        ways = list(HELP_WORDS)
        way = ways[(ways.index(self.service.setup.person(self.person).help) + 1) % len(ways)]
        self.service.set_setting(("staff", self.person, "help"), way)
        self._draw()

    def give(self, lesson: str):
        self.service.set_setting(("staff", self.person, "lesson"), lesson)
        self._draw()

    def start_signing(self):
        self.signing, self._to_watch = not self.signing, False
        self._ask_who()

    def start_watching(self):
        self.signing = self._to_watch = True
        self._ask_who()

    def _ask_who(self):
        """Of a few trainers each has a key; one of many is found."""
        trainers, watches = self._trainers(), self._to_watch
        if self.signing and len(trainers) > MOST_TRAINERS:
            self.signing = False

            def found(name: str):
                self._to_watch = watches
                self.trained_by(name)

            return self.rooms.find({name: name for name in trainers}, found)
        self._draw()

    def trained_by(self, trainer: str):
        """A trainer's name was touched: to sign, or to watch."""
        if not self._to_watch:
            return self.sign(trainer)
        self.ask_no_more()
        self.signing, self._watcher, self._seen = False, trainer, set()
        self.lines = self.apart = ""            # the steps take their place
        self.ids.told.clear_widgets()
        self.ids.steps.clear_widgets()
        self._draw()

    def tick_off(self, step: Step):
        if str(step) not in self._seen:
            self.service.teaching.step_shown(self.person, str(step), self._watcher)
            self._seen.add(str(step))
            self._draw()

    def write_certificate(self):
        """Beside the evenings, where a manager fetches pages. No frame waits for that disk."""
        found, day, setup = self._found, self.service.book.day_now(), self.service.setup
        file = self.service.closing.folder / certificates.named_after(found.name)

        def work():
            try:
                certificates.write(found, day, setup, file)
                self._written(found.name, file)
            except OSError as wrong:
                self._written(found.name, file, wrong.strerror)

        self.service.aside.begin("certificate", work)

    @mainthread
    def _written(self, name: str, file: Path, why: str | None = None):
        if name == self.person:
            self.rule = _("Written: {file}").format(file=file) if why is None else \
                _("{file} could not be written ({why}). Choose another folder under Setup, Evening.").format(file=file, why=why)

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
    if found.shown:
        lines.append(_("Seen right by a trainer: {n} of {all} steps").format(n=len(found.shown), all=len(EVERY_STEP)))
    if found.pulls:
        skipped = ", ".join(f"{_(STEP_WORDS[Step(step)].short)} {n}" for step, n in found.skipped)
        lines.append(_("Steps skipped: {what}").format(what=skipped or _("none")))
    if found.step_s:
        lines.append(_("Seconds a step, first pulls › latest:"))
    return lines


def _key(words, then, kind="plain", on=False, enabled=True) -> Key:
    key = Key(text=words, kind=kind, size_u=Type.body, on=on, disabled=not enabled)
    key.bind(on_tap=lambda key: then())
    return key


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
