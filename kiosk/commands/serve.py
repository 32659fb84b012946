"""`python -m kiosk`: the kiosk itself. Where there is no display, it says so and plays a practice shift instead."""

import argparse
import gc
import logging
import logging.handlers
from pathlib import Path
from tempfile import mkdtemp

from kiosk import display
from kiosk.book import Book, BookBusy, BookNewer
from kiosk.commands import folders, shift
from kiosk.commands.shift import pixels
from kiosk.station.clock import Clock
from kiosk.station.refusal import language, refusal


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog=folders.called(), description=__doc__)
    folders.add_book(parser)
    parser.add_argument("--size", type=pixels, default=(800, 480), metavar="WxH", help="of the window (default: 800x480)")
    parser.add_argument("--fullscreen", action="store_true", help="take the whole panel")
    parser.add_argument("--scale", metavar="URL", help="the scale's port from now on: a device, any pyserial URL, "
                                                       "auto, or none")
    asked = parser.parse_args(argv)
    if not display.there():
        display.say("There is no display here, so a practice shift is played off screen instead.")
        return shift.run([])
    missing = display.gl_missing()
    why = refusal(asked.book)
    if missing is None:
        home = asked.book / "kivy" if why is None else Path(mkdtemp(prefix="evenpull-"))
        display.prepare(home, size=asked.size, fullscreen=asked.fullscreen)
        missing = display.window_missing()
    if missing is not None:
        display.say(missing)
        return 2
    try:
        book = Book.open(asked.book, behind=True) if why is None else None
    except (BookBusy, BookNewer) as wrong:
        book, why = None, wrong.message
    if book is None:
        return _refused(asked.book, why, asked.fullscreen)
    keep_log(asked.book / "kiosk.log")
    gc.disable()                # no search for waste until the first screen has stood for a second (ui.rooms)
    from kiosk.app import Kiosk
    from kiosk.station.station import Station

    with book:
        first_day = not book.settings and not book.days()
        service = Station.open(book, Clock())
        if asked.scale is not None:
            service.set_setting(("scale", "url"), {"none": ""}.get(asked.scale, asked.scale))
        Kiosk(service, first_day=first_day).run()
    return 0


def _refused(folder: Path, why: str, fullscreen: bool) -> int:
    """Said where the kiosk was started from; on a station's own panel also there, until the cause is gone."""
    display.say(str(why))
    if not fullscreen:
        return 2
    from kiosk.languages import catalogue
    from kiosk.screens.refused import RefusalApp
    from kiosk.screens.ui.words import speak

    def look_again() -> str | None:
        found = refusal(folder)
        if found is not None:
            return found
        try:
            Book.open(folder).close()
        except (BookBusy, BookNewer) as wrong:
            return wrong.message
        return None

    speak(catalogue(language(folder)))
    RefusalApp(why, look_again).run()
    return 2                    # the service manager starts the kiosk anew


def keep_log(path: Path) -> None:
    """Causes for whoever mends the kiosk; the screen has the sentences. A quarter of a megabyte at most, twice."""
    handler = logging.handlers.RotatingFileHandler(path, maxBytes=250_000, backupCount=1, encoding="utf-8", delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    logging.raiseExceptions = False         # a full disk is told on the screen, not in the journal line by line
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
