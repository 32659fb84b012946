"""`python -m kiosk shift`: a practice shift of a few orders through the real screens, off screen, on a practice scale.

It saves a picture of each screen that it passes and the day's report in a folder, prints where, and ends with 0; with
1 where the kiosk did not go on as it should, with 2 where it may not write there. Where the graphics libraries are missing
it says which packages bring them, and plays the shift all the same, without pictures.
"""

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from hardware.scale import CONNECTED
from kiosk import display
from kiosk.bar.evening import as_plain, as_text, evening
from kiosk.bar.guide import Bin
from kiosk.bar.model.setup import FINER
from kiosk.book import Book
from kiosk.commands import folders
from kiosk.station.clock import Clock, wall_now

if TYPE_CHECKING:
    from kiosk.station.port import Port

SPEED = 5.0             # bar seconds in a real one: a pull of 25 s in five
TICK_S = 0.02
MOST_S = 0.5            # bar seconds from one tick to the next
HEARD_S = 0.5           # bar seconds within which a line of the scale has come through its port
STAFF = {"Ines": {"new": False}, "Tomo": {"new": True}}


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog=f"{folders.called()} shift", description=__doc__)
    parser.add_argument("--folder", type=Path, help="for the pictures and the report (default: a new one)")
    parser.add_argument("--size", type=pixels, default=(800, 480), metavar="WxH")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(argv)
    missing = display.gl_missing()
    folder = asked.folder or Path(tempfile.mkdtemp(prefix="evenpull-shift-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        print(f"{folder}: {wrong.strerror}. Name a folder that you may write in with --folder.", file=sys.stderr)
        return 2
    if missing is None:
        display.prepare(folder / "kivy", size=asked.size, offscreen=True)
        missing = display.window_missing()
    if missing is not None:
        display.say(f"{missing}. The practice shift is played without pictures.")
    return play(folder, asked.seed, seen=missing is None)


def pixels(text: str) -> tuple[int, int]:
    try:
        width, height = (int(part) for part in text.lower().split("x"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no size: write it like 1280x800") from None
    if not (320 <= width <= 7680 and 320 <= height <= 7680):
        raise argparse.ArgumentTypeError("a panel is 320 to 7680 pixels each way")
    return width, height


class Pace:
    """The shift's own seconds: SPEED in a real one, and where a computer draws slowly no more than its hand can follow, none
    while the scale's line is on its way, so that it plays the same shift, later."""

    def __init__(self, real: Callable[[], float] = time.monotonic):
        self._real = real
        self._last: tuple[float, float | None] = 0.0, real()     # changed whole: the scale reads it on a thread of its own

    def s(self) -> float:
        at_s, real_s = self._last
        return at_s if real_s is None else at_s + min((self._real() - real_s) * SPEED, MOST_S)

    def tick(self, port: "Port | None" = None) -> None:
        health = port.health if port is not None else None
        waits = health is not None and health.state == CONNECTED and health.age_s is not None and health.age_s > HEARD_S
        self._last = self.s(), None if waits else self._real()


def play(folder: Path, seed: int, seen: bool = True) -> int:
    """Returns an exit status. Where it is not `seen`, no screen is drawn and nothing of Kivy is imported."""
    from hardware.practice import PracticeBar, PracticeGrinder, PracticeScale
    from kiosk.practice.barista import Stuck
    from kiosk.station.station import Station

    pace, began = Pace(), wall_now()

    def wall() -> datetime:
        return began + timedelta(seconds=pace.s())

    clock = Clock(monotonic=pace.s, wall=wall)
    stuck: list[str] = []
    with Book.open(folder / "book", now=wall) as book, PracticeScale(seed=seed, clock=clock.s, speed=SPEED) as scale:
        service = Station.open(book, clock)
        service.set_setting(("staff",), STAFF)
        service.set_setting(("scale", "url"), scale.url)
        bar = PracticeBar(scale=scale, seed=seed, grinder=PracticeGrinder())
        pictures = Pictures(folder)
        try:
            if seen:
                on_screens(service, bar, scale, pictures, pace)
            else:
                off_screens(service, bar, scale, pace)
        except (Stuck, LookupError) as wrong:
            stuck.append(str(wrong))
        today = book.today()
        found = evening(today.all, today.day).summary
        text = as_text(found, service.setup.bar)
    (folder / "report.txt").write_text(text + "\n", encoding="utf-8")
    (folder / "report.json").write_text(json.dumps(as_plain(found), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    if stuck:
        print(f"The practice shift stopped early: {stuck[0]}. What it came to is in {folder}.")
        return 1
    print(f"A practice shift of {found.figures.orders_served} orders and {len(found.figures.pulls)} pulls: "
          f"{pictures.taken or 'no'} pictures, report.txt and report.json are in {folder}")
    return 0


def on_screens(service, bar, scale, pictures: "Pictures", pace: Pace) -> None:
    """The shift on the kiosk's own screens. Raises Stuck, LookupError."""
    from kiosk.app import Kiosk
    from kiosk.practice.barista import ScriptedBarista, Stuck
    from kiosk.screens.ui.finger import Finger

    course: Iterator[None] | None = None
    wrong: list[Exception] = []

    def tick(kiosk: Kiosk) -> None:
        nonlocal course
        pace.tick(kiosk.port)
        if course is None:
            course = shift(ScriptedBarista(service, Finger(kiosk.root), bar, scale, pictures.take), service)
        try:
            next(course)
        except StopIteration:
            kiosk.stop()
        except (Stuck, LookupError) as odd:         # told once the kiosk has closed its ports
            wrong.append(odd)
            kiosk.stop()

    Kiosk(service, each_tick=tick).run()
    if wrong:
        raise wrong[0]


def off_screens(service, bar, scale, pace: Pace) -> None:
    """The same work with nobody looking: what the finger would touch is told to the station. Raises Stuck."""
    from kiosk.practice.unseen import UnseenBarista
    from kiosk.station.port import Port

    port = Port(service.scales.first, scale.url, service.setup.scale, service.book, service.clock.s, service.scales.feeds.observe,
                service.complain)
    try:
        for _ in unseen(UnseenBarista(service, bar, scale), service):
            pace.tick(port)
            port.hand_over()
            service.tick()
            service.scales.first.tick()
            time.sleep(TICK_S)
    finally:
        port.close()


class Pictures:
    """One picture a kind of moment, numbered in the order of the shift."""

    def __init__(self, folder: Path):
        self.folder, self.taken, self._seen = folder, 0, set()

    def take(self, moment: str) -> Iterator[None]:
        from kivy.app import App
        from kivy.core.window import Window

        name = f"{App.get_running_app().root.current}-{moment}".replace(" ", "-")
        if name in self._seen:
            return
        self._seen.add(name)
        yield
        yield                           # two frames, so that what changed is drawn
        self.taken += 1
        shot = Window.screenshot(str(self.folder / f"{self.taken:02}-{name}.png"))
        if shot:
            Path(shot).rename(self.folder / f"{self.taken:02}-{name}.png")


def shift(hand, service) -> Iterator[None]:
    """A split pair and a milk drink, a shot binned and remade, a notch, then a new hire's first espresso."""
    finger, passed = hand.finger, hand.passed
    yield from hand.until(lambda: service.scales.first.there, "the scale to answer")
    yield from passed("empty")
    finger.tap("Who?")
    yield
    yield from passed("asked")
    finger.tap("Ines")
    yield from hand.order("Espresso", "Espresso", "Cappuccino", "Double espresso")
    yield from passed("waiting")
    yield from hand.pull(1)
    finger.tap("Bin", hand.card(2))
    yield
    yield from passed("why")
    finger.tap("Wrong drink")
    yield
    yield from hand.pull(2)
    yield from hand.pull(1)
    finger.tap("Notch")
    yield
    finger.tap("Finer")
    yield
    yield from passed("chosen")
    finger.tap("Turned one notch")
    hand.bar.move_notch(-1)
    hand.bar.purge_grounds(6)
    yield
    finger.tap("Ines")
    yield
    finger.tap("Tomo")
    yield from hand.order("Espresso")
    yield from hand.pull(1)
    for room, ways_back in (("Today", ("Back",)), ("Setup", ("Done",)), ("Scale", ("Back", "Done"))):
        finger.tap("More")
        yield from hand.wait(1)
        finger.tap(room)
        yield from hand.wait(2)
        yield from passed("open")
        if room == "Setup":
            finger.tap("Recipes")
            yield
            yield from passed("recipes")
        for back in ways_back:
            finger.tap(back)
            yield
    yield from passed("closing")


def unseen(hand, service) -> Iterator[None]:
    """The orders and pulls of `shift`."""
    yield from hand.until(lambda: service.scales.first.there, "the scale to answer")
    service.choose("Ines")
    yield from hand.order("Espresso", "Espresso", "Cappuccino", "Double espresso")
    yield from hand.pull(1)
    service.tap(2, Bin, "Wrong drink")
    yield from hand.pull(2)
    yield from hand.pull(1)
    grinder = service.setup.grinders[0]
    service.grinding.move(grinder, FINER, grinder.purge_g)
    hand.bar.move_notch(-1)
    hand.bar.purge_grounds(grinder.purge_g)
    service.choose("Tomo")
    yield from hand.order("Espresso")
    yield from hand.pull(1)
