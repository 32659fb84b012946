"""Opening or closing: a key a thing to do; touched, it is done, with the time; a number where one is read."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, StringProperty

from kiosk.bar.model.record import Noted
from kiosk.bar.model.tasks import OPENING, REASONS, TASK_SKIPPED, USUAL, Task
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _, amount, number


class TasksScreen(Room):
    """`of` is the list that is shown; `skipping`: the next one touched is left out; `reading`: a number is read."""

    of = StringProperty(OPENING)
    title = StringProperty()
    told = StringProperty()
    skipping = BooleanProperty(False)
    reading = BooleanProperty(False)
    value = NumericProperty(0)
    value_words = StringProperty()

    def open(self, of: str):
        self.of = of
        self.rooms.go("tasks")

    def enter(self):
        self._task: Task | None = None
        self.skipping = self.reading = False
        self.told = _("Touch what is done.")

    def show(self):
        done = self.service.tasks.ticked(self.of)
        self.title = _("Opening") if self.of == OPENING else _("Closing")
        grid = self.ids.grid
        grid.clear_widgets()
        if self._task is not None and self.skipping:
            for reason in REASONS:
                key = Key(text=_(reason), kind="quiet")
                key.bind(on_tap=lambda _key, reason=reason: self.left_out(str(reason)))
                grid.add_widget(key)
            return
        for task in USUAL[self.of]:
            key = Key(text=_(task.name), under=self._under(task, done.get(task.name)), on=self._task is task,
                      kind="quiet" if task.name in done else "plain")
            key.bind(on_tap=lambda _key, task=task: self.touch(task))
            grid.add_widget(key)

    def _under(self, task: Task, note: Noted | None) -> str:
        if note is None:
            return ""
        if note.what == TASK_SKIPPED:
            return _("skipped: {why}").format(why=_(str(note.facts.get("why", ""))))
        value = f"  {amount(note.facts['value'], 'g', task.unit)}" if "value" in note.facts else ""
        return f"{note.at[11:16]}{value}"

    def touch(self, task: Task):
        self._task, self.reading = task, False
        if self.skipping:
            self.told = _("Why is it skipped?")
        elif task.unit:
            self.value, self.reading = task.usual, True
            self._value_told()
        else:
            self.service.tasks.done(self.of, task)
            self.told, self._task = _(task.caution) or _("Noted: {words}").format(words=_(task.name)), None
        self.show()

    def left_out(self, why: str):
        self.service.tasks.skip(self.of, self._task, why)
        self.told, self._task, self.skipping = _("Touch what is done."), None, False
        self.show()

    def add(self, steps: int):
        self.value = round(self.value + steps * self._task.step, 2)
        self._value_told()

    def _value_told(self):
        task = self._task
        self.value_words = amount(self.value, "g", task.unit)
        window = f"{number(task.low, 'g')}–{number(task.high, 'g')}" if task.low is not None else f"≤ {number(task.high, 'g')}"
        fits = task.fits(self.value)
        self.told = " ".join(part for part in (
            f"{_(task.name)} ({window} {task.unit}).", _(task.caution) if task.caution else "",
            "" if fits else _("It is outside: wait or call a technician, and serve nothing from it until then.")) if part)

    def read(self):
        self.service.tasks.done(self.of, self._task, self.value)
        fits = self._task.fits(self.value)
        self.reading, self._task = False, None
        self.told = _("Touch what is done.") if fits else self.told
        self.show()

    def turn_skipping(self):
        self.skipping, self._task, self.reading = not self.skipping, None, False
        self.told = _("Touch what is skipped.") if self.skipping else _("Touch what is done.")
        self.show()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
