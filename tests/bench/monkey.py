"""Random touches on the real screens: `python -m tests.bench.monkey [HOW_MANY]` (50,000 unless told).

Anywhere on the panel, at any moment, with the scale unplugged and plugged in and things set down on it. Bars: nothing
raises, no lane is stuck (each is tapped to its end afterwards), and what the book's records, played again, say is
waiting and being made is just what the kiosk has.
"""

import sys
import tempfile
from pathlib import Path
from random import Random

from kiosk import display
from tests.bench.bars import Bars

TOUCHES = 50_000


def campaign(touches: int, seed: int = 5, folder: Path | None = None) -> Bars:
    from kiosk.bar.guide import guide as guides
    from kiosk.station.order_queue import OrderQueue
    from kiosk.station.restore import restored
    from tests.support.at_work import AtWork

    chance, bars = Random(seed), Bars(f"{touches} random touches")
    rooms, raised, unplugged, stuck = set(), 0, 0, 0
    unplugs = set(chance.sample(range(touches), max(1, touches * 3 // 2000)))
    with AtWork(folder or Path(tempfile.mkdtemp()), seed=seed,
                settings={"groups": 3, "staff": {"Ines": {}, "Tomo": {"new": True}}}) as work:
        width, height = work.kiosk.root.size
        for n in range(touches):
            try:
                work._drawn_until = work._frames + 1
                keys = work.finger.keys()
                if keys and chance.random() < 0.7:      # mostly where there is something, else anywhere
                    key = chance.choice(keys)
                    x, y = key.to_window(*key.center)
                    if chance.random() < 0.8:
                        key._last_tap = type(key).opened_s = float("-inf")
                else:
                    x, y = chance.uniform(0, width), chance.uniform(0, height)
                work.finger.touch(x, y)
                rooms.add(work.kiosk.root.current)
                if chance.random() < 0.1:
                    chance.choice((work.scale.lift_all, lambda: work.scale.put_on(chance.uniform(0, 700)),
                                   lambda: work.scale.knock(20)))()
                if n in unplugs:
                    unplugged += 1
                    work.scale.unplug()
                    work.frames(60)
                    work.scale.replug()
                for _ in range(chance.choice((1, 1, 1, 2, 20))):
                    work.frame()
            except Exception as wrong:
                raised += 1
                print(f"  touch {n} on {work.kiosk.root.current}: {type(wrong).__name__}: {wrong}", flush=True)
                if raised > 10:
                    break
        found = restored(work.book.today().raw, work.service.setup)
        kept = {each.key: (each.group, each.guide.step, each.guide.dose_g) for each in found.works}
        live = {lane.work.key: (lane.group, lane.work.guide.step, lane.work.guide.dose_g)
                for lane in work.service.lanes.values() if lane.work}
        again = OrderQueue(work.clock.now, lambda: 0.0, lambda *_: None, lambda: None)
        again.restore(found.waiting, found.deeds)       # as a restart does: what was taken back is not made
        waits = {(each.order_id, each.index) for each in again.waiting}
        apart = set(kept.items()) ^ set(live.items())
        apart |= waits ^ {(each.order_id, each.index) for each in work.service.line.waiting}
        for each in apart:
            print("  differs:", each)
        for order_id, _pulls in work.service.line.orders():
            work.service.orders.cancel(order_id)
        for lane in list(work.service.lanes.values()):
            for _ in range(15):
                if lane.work is not None:
                    work.t_s += guides.CONFIRMS_S           # whoever taps has seen what is there
                    work.service.tap(lane.group, guides.Forward)
            stuck += lane.work is not None
    bars.below("touches that raised", raised, 0)
    bars.below("lanes stuck", stuck, 0)
    bars.below("differences between the book and the kiosk", len(apart), 0)
    bars.above("rooms visited", len(rooms), 8 if touches >= 1000 else 4)
    bars.above("times the scale was unplugged", unplugged, len(unplugs))
    return bars


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    from kivy.config import Config

    Config.set("graphics", "maxfps", "0")
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else TOUCHES).end())
