"""The screens are drawn off screen: Kivy is made ready here, before any test imports it."""

import tempfile
from pathlib import Path

from kiosk import display

display.prepare(Path(tempfile.mkdtemp(prefix="evenpull-kivy-")), size=(800, 480), offscreen=True)

from kivy.config import Config  # noqa: E402  after prepare, as Kivy wants it

Config.set("graphics", "maxfps", "0")       # the tests' time is their own: no frame waits for a clock on the wall
