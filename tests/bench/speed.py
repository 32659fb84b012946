"""How fast the screens are, beside an empty Kivy window in the same run: `python -m tests.bench.speed`.

Each figure comes from a process of its own, off screen. Bars: a touch shows in the next frame at the median and within
50 ms at the 99th percentile, with two pulls running and a scale at 20 readings a second; a frame of the pull screen
costs at most twice an empty window's with one changing label; at rest the kiosk takes at most 1.5 times an empty
window's share of a core; its first useful screen comes within twice an empty app's time; readings cost under 3 % of a
core beyond that, and are on the screen within 50 ms at the 99th percentile.

Without a graphics card the processor fills every pixel of every frame, so a frame's cost is given twice: as it is here,
and with the filling cut down to one pixel, which leaves what the processor does where a card fills. Two pulls are timed
and one is weighed, 20 times in 60 frames, while the empty window's label changes in each. Of three runs each, in turn, the least
counts: whatever else the machine does only adds. Of a first screen it is the median of seven.
"""

import gc
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.bars import Bars

FRAMES, TOUCHES, REST_S = 600, 150, 8.0


def prepared(maxfps: int = 60):
    from kiosk import display

    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    from kivy.config import Config

    Config.set("graphics", "maxfps", str(maxfps))


# ---- each of these runs in a process of its own, and prints one JSON object ------------------------------------------

def empty(what: str) -> dict:
    began = time.perf_counter()
    prepared(0 if what.startswith("frames") else 60)
    from kivy.base import EventLoop
    from kivy.core.window import Window
    from kivy.uix.label import Label

    label = Label(text="0.0", font_size=92)
    EventLoop.ensure_window()
    Window.add_widget(label)
    EventLoop.start()
    return measured(what, began, EventLoop, lambda n: setattr(label, "text", f"{n / 10:.1f}"))


def kiosk(what: str, url: str = "") -> dict:
    began = time.perf_counter()
    prepared(0 if what.startswith("frames") else 60)
    from kivy.base import EventLoop
    from kivy.core.window import Window

    gc.disable()                        # as `kiosk.commands.serve` has it
    from kiosk.app import Kiosk
    from kiosk.bar.weighing import Sample
    from kiosk.book import Book
    from kiosk.station.clock import Clock
    from kiosk.station.station import Station

    turned, moment = what.startswith("frames"), [0.0]
    book = Book.open(Path(tempfile.mkdtemp()) / "book")
    service = Station.open(book, Clock(monotonic=lambda: moment[0]) if turned else Clock())
    service.set_setting(("scale", "url"), url)
    app = Kiosk(service, by_itself=not turned)
    EventLoop.ensure_window()
    Window.add_widget(app.build())
    EventLoop.start()

    def tick(n: int) -> None:
        """Sixty frames a second, a reading and a tick in every third, or in each."""
        if n % 3 == 0 or what.startswith("frames-changing"):
            moment[0] += 0.05
            service.scales.first.observe(Sample(moment[0], 95 + max(0.0, 1.5 * (moment[0] - 8)), False))
            app.tick()

    if turned:
        service.scales.first.observe(Sample(0.0, 95.0, True))
        pulling(service)
    return measured(what, began, EventLoop, tick)


def pulling(service) -> None:
    """Both lanes with their pump on."""
    from kiosk.bar.guide import guide as guides

    menu = {drink.name: drink for drink in service.setup.menu}
    service.orders.take(((menu["Latte"], 2),))
    for group in (1, 2):
        for _ in range(5):
            service.tap(group, guides.Forward)


def measured(what: str, began: float, loop, change) -> dict:
    from kivy.core.window import Window
    from kivy.graphics.opengl import GL_SCISSOR_TEST, glEnable, glFinish, glScissor

    loop.idle()                 # with its first frame a room is whole
    glFinish()
    if what == "first":
        return {"first_s": time.perf_counter() - began}
    if what == "rest":
        settled(loop)
        until, cpu = time.perf_counter() + REST_S, time.process_time()
        while time.perf_counter() < until:
            loop.idle()
        return {"share": (time.process_time() - cpu) / REST_S}
    settled(loop)
    for n in range(300):
        change(n)
        loop.idle()
    if what.endswith("unfilled"):
        glEnable(GL_SCISSOR_TEST)
        glScissor(0, 0, 1, 1)
    glFinish()
    cpu = time.process_time()
    for n in range(FRAMES):
        change(n)
        Window.canvas.ask_update()
        loop.idle()
    glFinish()
    return {"frame_ms": 1000 * (time.process_time() - cpu) / FRAMES}


def settled(loop, seconds: float = 6.0) -> None:
    """The other rooms are furnished, one a frame, after the first is open."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        loop.idle()


def touches() -> dict:
    """Frames and milliseconds from a touch to the first frame in which the touched place looks different."""
    prepared(60)
    from kivy.base import EventLoop
    from kivy.core.window import Window
    from kivy.graphics.opengl import GL_RGB, GL_UNSIGNED_BYTE, glReadPixels

    from hardware.practice import PracticeScale
    from kiosk.app import Kiosk
    from kiosk.book import Book
    from kiosk.screens.ui.finger import Finger
    from kiosk.station.clock import Clock
    from kiosk.station.station import Station

    book = Book.open(Path(tempfile.mkdtemp()) / "book")
    service = Station.open(book, Clock())
    with PracticeScale(rate_hz=20) as scale:
        service.set_setting(("scale", "url"), scale.url)
        app = Kiosk(service)
        EventLoop.ensure_window()
        Window.add_widget(app.build())
        EventLoop.start()
        pulling(service)
        scale.put_on(95)
        settled(EventLoop)
        finger = Finger(app.root)
        frames, milliseconds = [], []
        for n in range(TOUCHES):
            for _ in range(4 + n % 5):
                EventLoop.idle()
            key = finger.find("Bin") if app.root.current == "station" else finger.find("Go on")
            x, y = (int(edge) for edge in key.to_window(*key.pos))
            part = int(key.width), int(key.height)
            before = glReadPixels(x, y, *part, GL_RGB, GL_UNSIGNED_BYTE)
            began, count = time.perf_counter(), 0
            finger.tap(key.text)
            while count < 30:
                EventLoop.idle()
                count += 1
                if glReadPixels(x, y, *part, GL_RGB, GL_UNSIGNED_BYTE) != before:
                    break
            if n >= 10:                             # the first visits to a room are not what a day is made of
                frames.append(count)
                milliseconds.append(1000 * (time.perf_counter() - began))
        readings = drawn_within(app, scale, EventLoop)
        app.on_stop()
    frames.sort(), milliseconds.sort()
    return {"frames": frames[len(frames) // 2], "ms_99": milliseconds[int(len(milliseconds) * 0.99)],
            "reading_ms_99": readings}


def drawn_within(app, scale, loop) -> float:
    """Milliseconds from a line leaving the scale to the end of the frame that shows it, at the 99th percentile."""
    sent: list[float] = []
    send = scale._send

    def timed(line):
        sent.append(time.perf_counter())
        send(line)

    scale._send = timed
    late, seen = [], app.port.health.accepted
    until = time.perf_counter() + 8
    while time.perf_counter() < until:
        loop.idle()
        now = time.perf_counter()
        handed = app.service.scales.first.latest
        if handed is not None and sent and app.port.health.accepted != seen:
            seen = app.port.health.accepted
            late.append(1000 * (now - sent[-1]))
    scale._send = send
    late.sort()
    return late[int(len(late) * 0.99)]


def asked(*words: str) -> dict:
    environ = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-m", "tests.bench.speed", *words]
    ended = subprocess.run(command, capture_output=True, text=True, env=environ)
    if ended.returncode:
        raise SystemExit(ended.stderr)
    return json.loads(ended.stdout.strip().splitlines()[-1])


def beside(what: str, figure: str, runs: int = 3) -> tuple[list[float], list[float]]:
    """The kiosk's and the empty window's, sorted; run in turn, so that both see the machine as busy as it is."""
    found = [(asked("kiosk", what)[figure], asked("empty", what)[figure]) for _ in range(runs)]
    kiosk, empty = map(sorted, zip(*found))
    return kiosk, empty


def campaign() -> Bars:
    from hardware.practice import PracticeScale

    bars = Bars("The screens, beside an empty Kivy window")
    found = asked("touches")
    bars.below("frames from touch to changed pixel, median", found["frames"], 1)
    bars.below("milliseconds from touch to changed pixel, 99th percentile", found["ms_99"], 50)
    bars.below("milliseconds from a reading to its frame, 99th percentile", found["reading_ms_99"], 50)
    for what, words in (("frames-unfilled", "its pixels left to a graphics card"), ("frames", "pixels and all")):
        (frame, *_), (bare, *_) = beside(what, "frame_ms")
        bars.below(f"cost of a pull screen's frame, {words}, {frame:.2f} ms, over an empty window's, {bare:.2f} ms",
                   frame / bare, 2)
        changing = min(asked("kiosk", what.replace("frames", "frames-changing"))["frame_ms"] for _ in range(3))
        print(f"        one in which both timers, a weight and its curve change: {changing:.2f} ms, {changing / bare:.2f} times")
    (rest, *_), (nothing, *_) = beside("rest", "share")
    bars.below(f"share of a core at rest, {rest:.2%}, over an empty window's, {nothing:.2%}", rest / nothing, 1.5)
    with PracticeScale(rate_hz=20) as scale:
        weighed = min(asked("kiosk", "rest", scale.url)["share"] for _ in range(3))
    bars.below(f"percent of a core that 20 readings a second take beyond that, {weighed:.2%} in all",
               100 * (weighed - rest), 3)
    (*_, first), (*_, first_bare) = (each[:4] for each in beside("first", "first_s", 7))        # medians
    bars.below(f"first useful screen, {first:.2f} s, over an empty app's, {first_bare:.2f} s", first / first_bare, 2)
    return bars


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["empty", what]:
            print(json.dumps(empty(what)))
        case ["kiosk", what, *url]:
            print(json.dumps(kiosk(what, *url)))
        case ["touches"]:
            print(json.dumps(touches()))
        case _:
            sys.exit(campaign().end())
