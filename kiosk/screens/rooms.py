"""All the rooms, and the ways between them."""

from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.coach import CoachScreen
from kiosk.screens.languages import catalogue
from kiosk.screens.orders import LineScreen, OrdersScreen
from kiosk.screens.panels import BinScreen, NotchScreen, WhoScreen
from kiosk.screens.room import Room
from kiosk.screens.scale import ScaleScreen
from kiosk.screens.setup import LettersScreen, SetupScreen
from kiosk.screens.station import StationScreen
from kiosk.screens.today import TodayScreen
from kiosk.screens.words import speak

SCREENS = {"station": StationScreen, "coach": CoachScreen, "orders": OrdersScreen, "line": LineScreen, "bin": BinScreen,
           "notch": NotchScreen, "who": WhoScreen, "today": TodayScreen, "setup": SetupScreen, "letters": LettersScreen,
           "scale": ScaleScreen}


class Rooms(BoxLayout):
    """`port` is the scale's own door, None at a station without one. `current` is the name of the open room."""

    def __init__(self, service, port=None, **given):
        super().__init__(**given)
        self.service, self.port = service, port
        self.current = ""
        self._coached: str | None = None        # the pull that the coach has already been opened for
        self._spoken: dict[str, dict[str, Room]] = {}    # language → its rooms: a key's words are set when it is made
        service.changed.append(self.show)
        self.home()

    @property
    def open(self) -> Room:
        return self._rooms[self.current]

    def room(self, name: str) -> Room:
        return self._rooms[name]

    def go(self, name: str):
        self.current = name
        self.clear_widgets()
        self.add_widget(self.open)
        self.open.enter()
        self.open.show()

    def home(self):
        """Back to work, in the language of whoever works: the coach where a new hire does, else the lanes."""
        self._speak(self.service.setup.language_of(self.service.barista))
        lane = self.room("coach").coached()
        if lane is not None:
            self._coached = lane.work.key
        self.go("station" if lane is None else "coach")

    def _speak(self, language: str):
        speak(catalogue(language))
        if language not in self._spoken:
            self._spoken[language] = {name: kind(name=name, service=self.service, rooms=self)
                                      for name, kind in SCREENS.items()}
        self._rooms = self._spoken[language]

    def show(self):
        """Draw the state anew; a new hire's pull brings its coach, and its end the lanes."""
        lane = self.room("coach").coached()
        new_to_coach = lane is not None and lane.work.key != self._coached
        if (self.current == "coach" and lane is None) or (self.current == "station" and new_to_coach):
            self.home()
        else:
            self.open.show()

    def tick(self):
        self.open.tick()

    def open_bin(self, group: int):
        self.room("bin").group = group
        self.go("bin")

    def open_notch(self, grinder_name: str):
        self.room("notch").grinder_name = grinder_name
        self.go("notch")

    def write(self, asked: str, text: str, then):
        """Ask for a word, letter by letter; `then(word)` when it is written."""
        letters = self.room("letters")
        letters.asked, letters.text, letters.then = asked, text, then
        self.go("letters")
