"""The kiosk's few sounds, off with one setting. A station without a loudspeaker is silent, never broken."""

import logging
from collections.abc import Callable

from kivy.core.audio import SoundLoader

from kiosk.places import shipped

log = logging.getLogger(__name__)


class Sounds:
    def __init__(self, wanted: Callable[[], bool]):
        self._wanted, self._sounds = wanted, {}

    def play(self, name: str) -> None:
        if not self._wanted():
            return
        try:
            if name not in self._sounds:
                self._sounds[name] = SoundLoader.load(str(shipped("assets", "sounds", f"{name}.wav")))
            if self._sounds[name] is not None:
                self._sounds[name].stop()
                self._sounds[name].play()
        except Exception as wrong:      # an audio driver's trouble is not the barista's
            log.warning("no sound %s: %s", name, wrong)
