"""All the screens, and the ways between them."""

from kivy.uix.screenmanager import NoTransition, ScreenManager

from kiosk.screens.coach import CoachScreen
from kiosk.screens.orders import LineScreen, OrdersScreen
from kiosk.screens.panels import BinScreen, NotchScreen, WhoScreen
from kiosk.screens.scale import ScaleScreen
from kiosk.screens.setup import LettersScreen, SetupScreen
from kiosk.screens.station import StationScreen
from kiosk.screens.today import TodayScreen

SCREENS = {"station": StationScreen, "coach": CoachScreen, "orders": OrdersScreen, "line": LineScreen, "bin": BinScreen,
           "notch": NotchScreen, "who": WhoScreen, "today": TodayScreen, "setup": SetupScreen, "scale": ScaleScreen}


class Rooms(ScreenManager):
    """`port` is the scale's own door (hardware.scale.Scale), None at a station without one."""

    def __init__(self, service, port=None, **given):
        super().__init__(transition=NoTransition(), **given)
        self.service, self.port = service, port
        self._coached: str | None = None        # the pull that the coach has already been opened for
        for name, kind in SCREENS.items():
            self.add_widget(kind(name=name, service=service))
        self.add_widget(LettersScreen(name="letters"))
        service.changed.append(self.show)
        self.home()

    def show(self):
        """Draw the state anew; a new hire's pull brings its coach, and its end the station."""
        lane = self.get_screen("coach").coached()
        if self.current == "coach" and lane is None:
            self.current = "station"
        elif self.current == "station" and lane is not None and lane.work.key != self._coached:
            self.current = "coach"
        if self.current == "coach":
            self._coached = lane.work.key
        if self.current in ("station", "coach"):
            self.current_screen.show()

    def tick(self):
        tick = getattr(self.current_screen, "tick", None)
        if tick is not None:
            tick()

    def go(self, name: str):
        self.current = name
        if name == "station":
            self.current_screen.show()

    def home(self):
        """Back to work: the coach where a new hire works, else the lanes."""
        lane = self.get_screen("coach").coached()
        self.current = "coach" if lane is not None else "station"
        self.show()
        self.current_screen.show()

    def open_bin(self, group: int):
        self.get_screen("bin").group = group
        self.current = "bin"

    def open_notch(self, grinder_name: str):
        self.get_screen("notch").grinder_name = grinder_name
        self.current = "notch"

    def write(self, asked: str, text: str, then):
        letters = self.get_screen("letters")
        letters.asked, letters.text, letters.then = asked, text, then
        self.current = "letters"
