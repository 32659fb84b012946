"""Tickets of tills that no rule was made on: `python -m tests.bench.till [byte strings]` (200,000 unless told).

Random bytes through the paper and the reader; six shapes of ticket, each taught with ten touches at most by somebody who touches the first line that is not
understood; and 300 orders an hour through the real screens with two lanes. "columns" and "frame" are unlike
what the rules were made on (the shapes of `tests/bar/model/test_ticket.py`) and passed as they were; the other four led to
rules for every ticket: counts with dots, parts of one line, brackets.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random
from time import monotonic, perf_counter

from hardware.ticket import Paper
from kiosk.bar.model import USUAL_MENU
from kiosk.bar.model.order import APART, USUAL_CHANGES
from kiosk.bar.model.ticket import read_ticket, vocabulary, words_of
from tests.bench.bars import Bars

STRINGS, TICKETS, TOUCHES = 200_000, 200, 10
DRINKS, CHANGES = tuple(drink.name for drink in USUAL_MENU), tuple(change.name for change in USUAL_CHANGES)
KNOWN = vocabulary({}, DRINKS, CHANGES)
# What these tills call them: mostly as the menu does, some by words of their own.
SHORT = dict(zip(DRINKS, DRINKS)) | {"Espresso": "ESP", "Double espresso": "ESP DBL", "Mocha": "MOCCA"}
LONG = dict(zip(DRINKS, DRINKS)) | {"Americano": "Caffè lungo", "Cappuccino": "Cappuccio", "Macchiato": "Caffè macchiato"}
FOREIGN = dict(zip(CHANGES, CHANGES)) | {"takeaway": "TO GO", "oat milk": "OAT", "soya milk": "SOY"}


def bytes_at_random(many: int, seed: int = 3) -> tuple[int, int, float]:
    """(how many raised, drinks ordered of bytes without a drink's name, slowest in s)."""
    chance, raised, ordered, slowest = Random(seed), 0, 0, 0.0
    for _ in range(many):
        data = bytes(chance.choice((27, 28, 29, 16, 10, 12, 64, *range(256))) for _ in range(chance.randint(0, 80)))
        began = perf_counter()
        try:
            paper = Paper(chance.choice(("cp437", "cp858", "cp1252", "utf-8")))
            for lines in (*paper.feed(data), *paper.rest()):
                ordered += len(read_ticket(lines, KNOWN).items)
        except Exception as wrong:
            raised += 1
            print(f"  {data!r}: {wrong!r}")
        slowest = max(slowest, perf_counter() - began)
    return raised, ordered, slowest


def an_order(chance: Random) -> list[tuple[str, int, tuple[str, ...]]]:
    return [(chance.choice(DRINKS), chance.choice((1, 1, 1, 2, 3)), tuple(chance.sample(CHANGES, chance.choice((0, 0, 1, 1, 2)))))
            for _ in range(chance.randint(1, 4))]


def _stamped(n: int) -> str:
    return f"{8 + n // 60 % 10:02}:{n % 60:02}"


def dotted(order, n: int) -> list[str]:
    lines = [f"*** BAR *** #{n:04}", f"{_stamped(n)}"]
    for drink, count, changes in order:
        lines += [f"{count:02}...{SHORT[drink]}", *(f"     ..{FOREIGN[each]}" for each in changes)]
    return lines


def columns(order, n: int) -> list[str]:
    lines = ["KITCHEN COPY", f"TISCH {n % 40}", f"01/02/2026 {_stamped(n)}", "=" * 30]
    for drink, count, changes in order:
        lines += [f"{LONG[drink]:<22}{count:>3}{count * 3.2:>9.2f}", *(f"   >> {FOREIGN[each]:<10}{0.5:>16.2f}" for each in changes)]
    return [*lines, "=" * 30, "ENDE"]


def inline(order, n: int) -> list[str]:
    return [f"Order no. {n}", *(f"{count}x {SHORT[drink]}" + "".join(f" / {FOREIGN[each]}" for each in changes)
                                for drink, count, changes in order), "served by till 2"]


def numbered(order, n: int) -> list[str]:
    lines = [f"Nr. {n}   {_stamped(n)}"]
    for drink, count, changes in order:
        lines += [f"{LONG[drink].upper()} *{count}", *(f"   mod: {FOREIGN[each]}" for each in changes)]
    return [*lines, "Guten Appetit!"]


def framed(order, n: int) -> list[str]:
    lines = ["+" + "-" * 24 + "+", f"| Table: {n % 30:<16}|"]
    for drink, count, changes in order:
        lines += [f"| {count} {SHORT[drink]:<20} |", *(f"|   - {FOREIGN[each]:<18} |" for each in changes)]
    return [*lines, "+" + "-" * 24 + "+"]


def in_brackets(order, n: int) -> list[str]:
    return [f"Ticket {n}", *(f"{LONG[drink]} x {count}" + (f" ({', '.join(FOREIGN[each] for each in changes)})" if changes else "")
                             for drink, count, changes in order), "", "thank you"]


SHAPES = {"brackets": in_brackets, "dots": dotted, "columns": columns, "inline": inline, "numbered": numbered, "frame": framed}


def taught(shape, seed: int, touches: int = TOUCHES) -> tuple[float, float, float]:
    """(share of drinks right, wrong, shown as not understood) after so many touches: the words that come most often first,
    as somebody would who has a morning's tickets before them."""
    chance = Random(seed)
    meant = {words_of(f"1 {SHORT[drink]}"): f"drink:{drink}" for drink in DRINKS}
    meant |= {words_of(f"1 {LONG[drink]}"): f"drink:{drink}" for drink in DRINKS}
    tickets = [(order, shape(order, n + 1)) for n, order in enumerate(an_order(chance) for _ in range(2 * TICKETS))]
    words: dict[str, str] = {}
    for _ in range(touches):
        open_words: Counter[str] = Counter()
        for _order, lines in tickets[:TICKETS]:
            read = read_ticket(lines, KNOWN | words)
            open_words.update(words_of(lines[place], KNOWN | words) for place in read.unclear)
        if not open_words:
            break
        word = next((each for each, _ in open_words.most_common() if each not in KNOWN | words), "")
        if not word:
            break
        words[word] = meant.get(word) or _change(word) or ("number" if "#" in word or "tab" in word or "tisch" in word else "nothing")
    right = wrong = shown = of = 0
    for order, lines in tickets[TICKETS:]:
        read = read_ticket(lines, KNOWN | words)
        want: Counter[str] = Counter()
        for drink, count, changes in order:
            want[APART.join((drink, *changes))] += count
        got: Counter[str] = Counter()
        for item in read.items:
            got[item.name] += item.count
        of += sum(want.values())
        right += sum((want & got).values())
        wrong += sum((got - want).values())
        shown += sum((want - got).values()) if read.unclear else 0
    return right / of, wrong / of, shown / of


def _change(word: str) -> str:
    return next((f"change:{name}" for name, short in FOREIGN.items() if words_of(short) == word), "")


def at_work(orders: int, per_hour: float = 300.0) -> tuple[float, float]:
    """(slowest from the last byte to the order on the glass in s, frame at 99 % in ms) with two lanes and a real port."""
    import os

    from kivy.base import EventLoop

    from tests.support.at_work import AtWork

    master, slave = os.openpty()
    chance, seen, frames = Random(5), [], []
    with AtWork(Path(tempfile.mkdtemp()), scale=False, settings={"groups": 2}) as work:
        work.service.set_setting(("till", "url"), os.ttyname(slave))
        limit = monotonic() + 5
        while not work.service.till.listening and monotonic() < limit:
            work.frame()
        for n in range(orders):
            drinks = [(chance.choice(DRINKS), chance.choice((1, 2))) for _ in range(chance.randint(1, 3))]
            text = f"{_stamped(n)}\n" + "".join(f"{count} {drink}\n" for drink, count in drinks)
            before = len(work.service.line.taken_orders)
            os.write(master, text.encode() + b"\x1dV\x00")
            began = perf_counter()
            while len(work.service.line.taken_orders) == before and perf_counter() - began < 5:
                work.kiosk.tick()
            EventLoop.idle()
            seen.append(perf_counter() - began)
            for _ in range(round(3600 / per_hour / 4)):
                began = perf_counter()
                work.kiosk.tick()
                EventLoop.idle()
                frames.append(1000 * (perf_counter() - began))
            for lane in list(work.service.lanes.values()):
                for _ in range(8):
                    if lane.work is not None:
                        from kiosk.bar.guide import guide as guides

                        work.service.tap(lane.group, guides.Forward)
    os.close(master)
    os.close(slave)
    return max(seen), sorted(frames)[int(0.99 * len(frames))]


def campaign(strings: int, orders: int, seed: int = 3) -> Bars:
    bars = Bars("Tickets from the till")
    raised, ordered, slowest = bytes_at_random(strings, seed)
    bars.below(f"{strings} random byte strings: raised", raised, 0)
    bars.below("of them: drinks ordered", ordered, 0)
    bars.below("of them: slowest, s", slowest, 0.5)
    for name, shape in SHAPES.items():
        right, wrong, shown = taught(shape, seed)
        bars.above(f"{name}, after {TOUCHES} touches: drinks right, share", right, 0.95)
        bars.below(f"{name}: wrong, share", wrong, 0.0)
        bars.above(f"{name}: right or shown, share", right + shown, 1.0)
    if orders:
        slowest, frame = at_work(orders)
        bars.below(f"{orders} orders at 300 an hour: slowest to the glass, s", slowest, 0.5)
        bars.below("frame at 99 %, ms", frame, 50)
    return bars


if __name__ == "__main__":
    from kiosk import display

    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else STRINGS, 100).end())
