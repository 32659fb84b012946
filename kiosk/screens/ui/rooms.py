"""All the rooms, and the ways between them."""

import gc
from importlib import import_module
from time import monotonic

from kivy.clock import Clock as Frames
from kivy.uix.floatlayout import FloatLayout
from kivy.uix.widget import Widget

from kiosk.languages import catalogue
from kiosk.screens.ui import sheet
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import speak

# Each is imported when it is first built, so that the station does not wait for the evening's sums.
SCREENS = {"station": "barista.station.StationScreen", "drawer": "barista.drawer.DrawerScreen", "till": "barista.till.TillScreen",
           "taste": "barista.taste.TasteScreen", "tasks": "barista.tasks.TasksScreen", "dial": "barista.dial.DialScreen",
           "burn": "barista.burn.BurnScreen",
           "coach": "hire.coach.CoachScreen", "milk": "hire.milk.MilkScreen", "orders": "barista.orders.OrdersScreen",
           "line": "barista.order_queue.LineScreen", "handover": "barista.handover.HandoverScreen", "bin": "barista.panels.BinScreen", "weight": "barista.panels.WeightScreen",
           "notch": "barista.panels.NotchScreen", "who": "barista.panels.WhoScreen", "scale": "setup.scale.ScaleScreen",
           "notes": "manager.notes.NotesScreen", "today": "manager.today.TodayScreen", "figures": "manager.figures.FiguresScreen",
           "pulls": "manager.figures.PullsScreen", "pull": "manager.figures.PullScreen", "weeks": "manager.weeks.WeeksScreen",
           "pin": "setup.pin.PinScreen", "setup": "setup.setup.SetupScreen", "letters": "setup.letters.LettersScreen", "find": "setup.find.FindScreen", "first day": "setup.first_day.FirstDayScreen",
           "wipe": "barista.glass.WipeScreen", "rest": "barista.glass.RestScreen",
           "practice": "hire.practice.PracticeScreen", "trainer": "hire.trainer.TrainerScreen"}
FURNISH_FROM_S, FURNISH_S = 1.0, 0.15
TIDIES_S = 0.3                 # after a room was opened, so that no touch waits for it
MANAGERS = ("today", "figures", "pulls", "pull", "weeks", "setup", "trainer")      # behind the PIN, where there is one
BEHIND = (*MANAGERS, "letters", "find")
LEFT_OPEN_S = 120.0            # without a touch, and the PIN is asked for again
RESTS_S = 1800.0               # without a touch and with no order: nobody works here now


class Rooms(FloatLayout):
    """`ports` are the scales' own doors, none at a station without. `current` is the name of the open room. `over` is laid over
    it for as long as `over.due(room)`."""

    def __init__(self, service, over: Widget, **given):
        super().__init__(**given)
        self.service, self.over, self.ports = service, over, []
        self.current = self.came_from = ""
        sheet.show(sheet.Sheet(self))
        self._touched_s = service.clock.s()
        self._unlocked = False                  # for as long as nobody goes back to work
        self._coached: str | None = None        # the pull that the coach has already been opened for
        self._furnished = False
        self._furnishing = Frames.create_trigger(self._furnish, FURNISH_S, interval=True)
        # By the clock that runs from one frame to the next: the time until the first frame is over at once.
        self._begins = Frames.create_trigger(self._begin, FURNISH_FROM_S)
        self._first_frame = Frames.create_trigger(lambda _s: self._begins())
        # In two goes, with frames between them: what a widget had bound comes free only once the widget is gone.
        self._tidy_rest = Frames.create_trigger(lambda _s: gc.collect(), TIDIES_S)
        self._tidy = Frames.create_trigger(lambda _s: gc.collect() and self._tidy_rest(), TIDIES_S)
        self._spoken: dict[str, dict[str, Room]] = {}    # language → its rooms: a key's words are set when it is made
        service.changed.append(self.show)
        self.home()

    @property
    def open(self) -> Room:
        return self.room(self.current)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(SCREENS)

    def room(self, name: str) -> Room:
        """The room of that name, in the language spoken now."""
        if name not in self._rooms:
            module, kind = SCREENS[name].rsplit(".", 1)
            screen = getattr(import_module(f"kiosk.screens.{module}"), kind)
            self._rooms[name] = screen(name=name, service=self.service, rooms=self)
        return self._rooms[name]

    def go(self, name: str):
        if name in MANAGERS and not self._unlocked and self.service.pin.there:
            self.room("pin").then, self.room("pin").setting, name = name, False, "pin"
        self.remove_widget(self.over)
        for room in self.children:
            room.closed()
        self.came_from, self.current = self.current, name
        Key.opened_s = monotonic()
        self.clear_widgets()
        self.open.left = self.service.setup.left_handed(self.service.barista)
        self.add_widget(self.open)
        self.open.enter()
        self.open.show()
        sheet.changed()
        if self._furnished:
            self._tidy()

    def home(self):
        """Back to work, in the language of whoever works: the coach where a new hire does, else the lanes."""
        self._unlocked, self._touched_s = False, self.service.clock.s()
        self._speak(self.service.setup.language_of(self.service.barista))
        lane = self.service.lanes.coached()
        if lane is not None:
            self._coached = lane.work.key
        self.go("station" if lane is None else "coach")

    def _speak(self, language: str):
        speak(catalogue(language))
        first = language not in self._spoken
        self._rooms = self._spoken.setdefault(language, {})
        if first:
            self._furnished = False
            self._first_frame()

    def close(self):
        """The kiosk ends: nothing is built or tidied any more."""
        self.open.closed()
        gc.enable()
        for each in (self._first_frame, self._begins, self._furnishing, self._tidy, self._tidy_rest):
            each.cancel()

    def _begin(self, _seconds):
        """The first room is there: waste is searched for from now on, and the others are built."""
        gc.enable()
        self._furnishing()

    def _furnish(self, _seconds):
        """One room at a time: the first does not wait for the others, and few of them are waited for later.

        What is there in the end stays all day and is not looked through for waste again: that took a tenth of a second at a
        moment of its own choosing, in which no cue could fall, and so seldom that tens of megabytes waited for it. The waste
        of a room that was left is now found by itself, in a few milliseconds.
        """
        missing = next((name for name in SCREENS if name not in self._rooms), None)
        if missing is None:
            if not self._furnished:         # once: what is waste by then would stay for good
                if not self.service.at_work:
                    gc.collect()            # a tenth of a second, in which no cue can fall
                gc.freeze()
                self._furnished = True
            return False
        self.room(missing)

    def show(self):
        """Draw the state anew; a new hire's pull brings its coach, and its end the lanes."""
        lane = self.service.lanes.coached()
        new_to_coach = lane is not None and lane.work.key != self._coached
        if self.current == "rest" and self.service.at_work:
            self.home()                 # coffee pours, or an order came from elsewhere
        elif (self.current == "coach" and lane is None) or (self.current == "station" and new_to_coach):
            self.home()
        else:
            self.open.show()

    def touched(self):
        """Somebody is there, by a finger or at a keyboard."""
        self._touched_s = self.service.clock.s()

    def on_touch_down(self, touch):
        self.touched()
        return super().on_touch_down(touch)

    def tick(self):
        untouched_s = self.service.clock.s() - self._touched_s
        if untouched_s > LEFT_OPEN_S:
            left, self._unlocked = self._unlocked and self.current in BEHIND, False
            if left or self.current == "pin":
                self.home()             # whoever opened them with the PIN, or was about to, has gone
        if self.current in ("station", "coach") and untouched_s > RESTS_S and not self.service.at_work:
            self.go("rest")
        self.open.tick()
        if self.over.due(self.open) != (self.over.parent is not None):
            (self.remove_widget if self.over.parent else self.add_widget)(self.over)

    def open_bin(self, group: int):
        self.room("bin").group = group
        self.go("bin")

    def open_weight(self, group: int):
        self.room("weight").group = group
        self.go("weight")

    def open_notch(self, grinder_name: str):
        self.room("notch").grinder_name = grinder_name
        self.go("notch")

    def unlock(self, name: str):
        """The PIN was right: the manager's rooms are open until somebody goes back to work."""
        self._unlocked, self._touched_s = True, self.service.clock.s()
        self.go(name)

    def open_figures(self, evening, group: str):
        room = self.room("figures")
        room.evening, room.wanted = evening, group
        self.go("figures")

    def open_pulls(self, title: str, ids, evening, back_to: str):
        room = self.room("pulls")
        room.title, room.ids_asked, room.evening, room.back_to = title, list(ids), evening, back_to
        self.go("pulls")

    def open_pull(self, pull_id: str):
        self.room("pull").pull_id = pull_id
        self.go("pull")

    def set_pin(self):
        self.room("pin").setting = True
        self.go("pin")

    def write(self, asked: str, text: str, then, blank: bool = False):
        """Ask for a word, letter by letter; `then(word)` when it is written. Nothing at all is a word where `blank`."""
        letters = self.room("letters")
        letters.asked, letters.text, letters.then, letters.blank, letters.back_to = asked, text, then, blank, self.current
        self.go("letters")

    def find(self, names: dict[str, str], then, typed: str = ""):
        """Find one of many: what each is called → what it is. `then(what)` with the open room back, once one is touched."""
        self.room("find").of(names, then, typed)
