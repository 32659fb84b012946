"""Whether there is a display, and Kivy made ready for a kiosk. To be called before anything of Kivy is imported."""

import ctypes
import logging
import os
import sys
from collections.abc import Callable
from pathlib import Path

GL = ("libGL.so.1", "libEGL.so.1")
GL_MISSING = ("Evenpull needs the graphics libraries {missing}, which are not on this machine. On Debian install them with: "
              "apt-get install libgl1 libegl1 libgl1-mesa-dri")


def there(environ=os.environ) -> bool:
    """A screen to draw on: a window system, or a driver that somebody chose (kmsdrm at a bar, say)."""
    return any(environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"))


def gl_missing(load: Callable[[str], object] = ctypes.CDLL) -> str | None:
    """The sentence to show where graphics libraries are missing, else None."""
    missing = []
    for name in GL:
        try:
            load(name)
        except OSError:
            missing.append(name)
    return GL_MISSING.format(missing=" and ".join(missing)) if missing else None


def prepare(home: Path, *, size: tuple[int, int] = (800, 480), fullscreen: bool = False,
            offscreen: bool = False) -> None:
    """Kivy as a kiosk has it: a home of our own, no arguments, no log on the terminal, Escape ends, nothing to fiddle
    with."""
    if offscreen:
        os.environ["SDL_VIDEODRIVER"] = "offscreen"
        os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    home.mkdir(parents=True, exist_ok=True)
    os.environ.update(KIVY_HOME=str(home), KIVY_NO_ARGS="1", KIVY_NO_FILELOG="1")
    os.environ.setdefault("KIVY_LOG_MODE", "PYTHON")
    logging.getLogger("kivy").addHandler(logging.NullHandler())     # to the kiosk's log, where there is one
    from kivy.config import Config

    for section, name, value in (
        ("kivy", "exit_on_escape", "0"), ("kivy", "log_level", "warning"), ("kivy", "window_icon", ""),
        ("graphics", "width", str(size[0])), ("graphics", "height", str(size[1])), ("graphics", "resizable", "1"),
        ("graphics", "fullscreen", "auto" if fullscreen else "0"),
        ("graphics", "multisamples", "0" if offscreen else "2"),
        ("graphics", "show_cursor", "0" if fullscreen else "1"), ("graphics", "maxfps", "60"),
        ("modules", "inspector", ""),
    ):
        Config.set(section, name, value)
    Config.remove_option("modules", "inspector")
    for provider in [name for name, _ in Config.items("input")]:
        Config.remove_option("input", provider)
    Config.set("input", "mouse", "mouse,disable_multitouch")


def window_missing() -> str | None:
    """After `prepare`: None where Kivy has its window, else the sentence to show."""
    try:
        from kivy.core.window import Window
    except SystemExit:
        Window = None
    except Exception as wrong:      # whatever a broken driver throws, the user reads one sentence
        return GL_MISSING.format(missing=f"(they answered: {wrong})")
    return None if Window is not None else GL_MISSING.format(missing="that a window is drawn with")


def say(sentence: str) -> None:
    print(sentence, file=sys.stderr)
