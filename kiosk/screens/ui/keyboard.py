"""A keyboard that is plugged in: what is typed comes to the room that is open, as the keyboard's own layout has it."""

from kivy.core.window import Window

NAMED = {"spacebar": " "}       # what a key is called in Setup, where that is not the letter it types


class Typed:
    """Part of a room: while it is open, `typed(letters)` is called with what is typed, and a method of the room for each key
    in `KEYS`, which names both. A key that is a group's foot switch types nothing."""

    KEYS: dict[str, str] = {}

    def enter(self):
        self._keyboard = Window.request_keyboard(lambda: None, self)
        self._keyboard.bind(on_textinput=self._letters, on_key_down=self._key)

    def closed(self):
        self._keyboard.unbind(on_textinput=self._letters, on_key_down=self._key)
        self._keyboard.release()

    def typed(self, letters: str):
        """So many letters were typed."""

    def _letters(self, _keyboard, text: str):
        switches = {NAMED.get(signal.key, signal.key) for signal in self.service.setup.signals if signal.key}
        letters = "".join(each for each in text if each.isprintable() and each.lower() not in switches)
        if letters:
            self.rooms.touched()
            self.typed(letters)

    def _key(self, _keyboard, key: tuple[int, str], *_rest) -> bool:
        if key[1] in self.KEYS:
            self.rooms.touched()
            getattr(self, self.KEYS[key[1]])()
        return True
