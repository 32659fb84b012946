"""Opening or closing, a step at a time: its picture and caution before the hand goes there, then Done; or any other, by its
key; a number where one is read; left out with a reason."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.bar.model import Noted
from kiosk.bar.model.tasks import OPENING, REASONS, TASK_SKIPPED, Task
from kiosk.screens.ui.look import Type, look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _, amount, number

BESIDE = 140            # u of the room's height that its line and its row of keys take
ACROSS = 2              # keys in a row of the list
OUTSIDE = N_("It is outside: wait or call a technician, and serve nothing from it until then.")


class TasksScreen(Room):
    """`of` is the list that is shown; `what` the step whose turn it is, "" once nothing is left; `skipping`: a reason is
    asked for; `reading`: a number is read."""

    of = StringProperty(OPENING)
    title = StringProperty()
    what = StringProperty()
    told = StringProperty()
    caution = StringProperty()
    picture = StringProperty()
    skipping = BooleanProperty(False)
    reading = BooleanProperty(False)
    asks = BooleanProperty(False)       # there is a step on the screen
    ticked = BooleanProperty(False)     # it was told already, done or skipped
    value = NumericProperty(0)
    value_words = StringProperty()

    def open(self, of: str):
        self.of = of
        self.rooms.go("tasks")

    def enter(self):
        if self.rooms.came_from != "letters":
            self._task, self._shown = None, Paging()
            self._put_on(self._next())

    # ---- whose turn it is -----------------------------------------------------------------------------------------

    @property
    def _tasks(self) -> tuple[Task, ...]:
        return self.service.setup.tasks(self.of)

    def _next(self) -> Task | None:
        """The first that nothing was told of, from the one on the screen on, then from the top."""
        done, tasks, at = self.service.tasks.ticked(self.of), self._tasks, self._place + 1
        return next((task for task in (*tasks[at:], *tasks[:at]) if task.name not in done), None)

    @property
    def _place(self) -> int:
        """Of the step on the screen in its list; -1 where none is, or it is on the list no more."""
        return next((n for n, task in enumerate(self._tasks) if self._is_on_screen(task)), -1)

    def _is_on_screen(self, task: Task) -> bool:
        return self._task is not None and task.name == self._task.name

    def _turn_to(self, task: Task | None, told: str = ""):
        self._put_on(task, told)
        self.show()

    def _put_on(self, task: Task | None, told: str = ""):
        """That step comes on the screen, with what was `told` of the one before."""
        self._task, self._kept, self.skipping = task, told, False
        self.reading = task is not None and bool(task.unit)
        if self._place >= 0:
            self._shown = self._paging().with_(self._place)
        if self.reading:
            note = self.service.tasks.ticked(self.of).get(task.name)
            read = note.facts.get("value") if note else None
            self.value = float(read) if isinstance(read, (int, float)) else task.begins_at

    @property
    def _places(self) -> int:
        return look.rows(BESIDE if not look.upright else look.down / 2 + BESIDE / 2) * ACROSS

    def _paging(self) -> Paging:
        """Of the list at once: all of it, or all but one place, which turns to the rest."""
        count, places = len(self._tasks), self._places
        return self._shown.over(count, places if count <= places else places - 1)

    # ---- what it shows --------------------------------------------------------------------------------------------

    def show(self):
        task, tasks = self._task, self._tasks
        done = self.service.tasks.ticked(self.of)
        self.title = _("Opening") if self.of == OPENING else _("Closing")
        self.asks, self.ticked = task is not None, task is not None and task.name in done
        self._list(tasks, done)
        if task is None:
            self.what = self._kept or (_("All of it is told.") if tasks else _("Nothing is on this list. Add it under Setup."))
            self.told = self.caution = self.picture = ""
            return
        self.what, self.picture = _(task.name), task.picture
        self.caution = _(task.caution) if task.caution else ""
        who = _("For {who}.").format(who=task.who) if task.who else ""
        self.told = _("Why is it skipped?") if self.skipping else " ".join(
            part for part in (self._kept, who, self._window(task) if task.unit else "") if part)

    def _list(self, tasks: tuple[Task, ...], done: dict[str, Noted]):
        grid = self.ids.grid
        grid.clear_widgets()
        self._shown = self._paging()
        for task in self._shown.of(tasks):
            key = Key(text=_(task.name), under=self._under(task, done.get(task.name)), on=self._is_on_screen(task), size_u=Type.body,
                      kind="quiet" if task.name in done else "plain")
            key.bind(on_tap=lambda _key, task=task: self._turn_to(task))
            grid.add_widget(key)
        for _n in range(self._shown.blank):
            grid.add_widget(Widget())
        if self._shown.pages > 1:
            more = Key(text=_("More"), kind="quiet", size_u=Type.body,
                       under=_("{n} of {all}").format(n=self._shown.page, all=self._shown.pages))
            more.bind(on_tap=lambda _key: self._more())
            grid.add_widget(more)

    def _more(self):
        self._shown = self._shown.turned()
        self.show()

    def _under(self, task: Task, note: Noted | None) -> str:
        if note is None:
            return task.who
        by = f"  {note.by}" if note.by else ""
        if note.what == TASK_SKIPPED:
            return _("skipped: {why}").format(why=_(str(note.facts.get("why", "")))) + by
        value = note.facts.get("value")
        read = f"  {amount(value, 'g', str(note.facts.get('unit', task.unit)))}" if isinstance(value, (int, float)) else ""
        return f"{note.at[11:16]}{read}{by}"

    def _window(self, task: Task) -> str:
        self.value_words = amount(self.value, "g", task.unit)
        low, high = ("" if end is None else number(end, "g") for end in (task.low, task.high))
        ends = f"{low}–{high}" if low and high else f"≥ {low}" if low else f"≤ {high}" if high else ""
        right = _("Right: {window}.").format(window=f"{ends} {task.unit}") if ends else ""
        return right if task.fits(self.value) else f"{right} {_(OUTSIDE)}"

    # ---- what a finger does ---------------------------------------------------------------------------------------

    def done(self):
        task = self._task
        self.service.tasks.done(self.of, task, self.value if task.unit else None)
        outside = bool(task.unit) and not task.fits(self.value)
        self._turn_to(self._next(), f"{_(task.name)}: {self.value_words}. {_(OUTSIDE)}" if outside else "")

    def skip(self):
        """Ask for the reason, or no longer; what was told by a slip is taken back instead."""
        if self.ticked:
            self.service.tasks.take_back(self.of, self._task)
        else:
            self.skipping = not self.skipping
        self.show()

    def left_out(self, why: str):
        self.service.tasks.skip(self.of, self._task, why)
        self._turn_to(self._next())

    def own_reason(self):
        self.rooms.write(_("Why is it skipped?"), "", self.left_out)

    def add(self, steps: int):
        self.value = round(self.value + steps * self._task.step, 2)
        self.show()

    @property
    def reasons(self) -> list[str]:
        return [str(reason) for reason in REASONS]


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
