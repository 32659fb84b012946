"""What pairing across orders saves, and whether anybody waits longer for it: `python -m tests.bench.planning [RUSHES]`.

A rush is forty orders that come in bursts to two lanes, each drawn from the usual menu; a pull takes 55 to 75 s of a lane. The
station's own queue hands them out, once as it is and once with no two orders ever sharing a pull. Bars: pulls are saved, and
no more orders wait longer than the bar's limit of 8 minutes. The suite runs a slice.
"""

import sys
from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from statistics import fmean

from kiosk.bar.model import USUAL_MENU, OrderTaken, plan
from kiosk.station.lane import Waiting
from kiosk.station.order_queue import OrderQueue
from tests.bench.bars import Bars

RUSHES, ORDERS, LANES, LATE_S = 1000, 40, 2, 480.0
WEIGHTS = (3, 1, 3, 4, 4, 1, 2)      # of the usual menu's drinks, in its order (chosen)


class Alone(OrderQueue):
    """The same queue, with no pull for two orders."""

    def _paired(self, first: Waiting, waiting: list[Waiting]) -> Waiting:
        return first


@dataclass
class Served:
    pulls: int = 0
    waits_s: list[float] = field(default_factory=list)


def queue_of(kind: type[OrderQueue]) -> OrderQueue:
    """One that keeps nothing."""
    return kind(datetime.now, lambda: LATE_S, lambda *_: None, lambda: None)


def rush(seed: int, queue: OrderQueue) -> Served:
    """`queue` hands out a rush: how many pulls it took, and how long each order waited for its last drink."""
    chance, served = Random(seed), Served()
    came: dict[str, float] = {}
    left: dict[str, int] = {}
    orders, at_s = [], 0.0
    for n in range(ORDERS):
        at_s += chance.expovariate(1 / 20) if chance.random() < 0.7 else chance.uniform(90, 240)
        drinks = chance.choices(USUAL_MENU, WEIGHTS[:len(USUAL_MENU)], k=chance.choice((1, 1, 2, 2, 3)))
        orders.append((at_s, f"o{n:03}", plan(tuple((drink, 1) for drink in drinks), "House")))
    takes_s = Random(seed + 1)
    free_at_s = [0.0] * LANES
    while orders or queue.waiting:
        lane = min(range(LANES), key=free_at_s.__getitem__)
        now_s = free_at_s[lane]
        while orders and orders[0][0] <= now_s:
            at, order_id, pulls = orders.pop(0)
            came[order_id], left[order_id] = at, len(pulls)
            queue.take(OrderTaken(id=order_id, at="", coffee="House", drinks=()), (Waiting(order_id, i, each) for i, each in enumerate(pulls)))
        made = queue.next()
        if made is None:
            free_at_s[lane] = orders[0][0] if orders else now_s
            continue
        free_at_s[lane] = now_s + takes_s.uniform(55, 75)
        served.pulls += 1
        for order_id, _index in made.places:
            left[order_id] -= 1
            if not left[order_id]:
                served.waits_s.append(free_at_s[lane] - came[order_id])
    return served


def campaign(rushes: int, seed: int = 0) -> Bars:
    bars = Bars(f"{rushes} rushes of {ORDERS} orders on {LANES} lanes")
    paired = [rush(seed + n, queue_of(OrderQueue)) for n in range(rushes)]
    alone = [rush(seed + n, queue_of(Alone)) for n in range(rushes)]
    saved = fmean(b.pulls - a.pulls for a, b in zip(paired, alone))
    late = [sum(wait > LATE_S for each in of for wait in each.waits_s) / sum(len(each.waits_s) for each in of) for of in (paired, alone)]
    longest = [fmean(max(each.waits_s) for each in of) for of in (paired, alone)]
    print(f"  pulls a rush: {fmean(a.pulls for a in paired):.1f} paired, {fmean(b.pulls for b in alone):.1f} alone; "
          f"longest wait: {longest[0] / 60:.1f} and {longest[1] / 60:.1f} min; orders later than 8 min: {late[0]:.1%} and {late[1]:.1%}")
    bars.above("pulls saved a rush", saved, 1.0)
    bars.below("share of orders that wait longer than the limit, more than with none paired", late[0] - late[1], 0.0)
    bars.below("orders lost or doubled", sum(len(each.waits_s) != ORDERS for each in (*paired, *alone)), 0)
    return bars


if __name__ == "__main__":
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else RUSHES).end())
