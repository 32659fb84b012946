"""The evening in words: one sentence first, then the figures as plain text that can be read on any screen."""

from datetime import date

from kiosk.bar.evening.costs import worth
from kiosk.bar.evening.day_chart import moved
from kiosk.bar.evening.figures import (
    OVERDOSE,
    PURGE,
    SINK,
    Figures,
    GrinderFigures,
    SettingRun,
    clock,
)
from kiosk.bar.evening.onset import onset
from kiosk.bar.evening.tomorrow import FASTER, SLOWER, ToDo
from kiosk.bar.evening.trend import Trend
from kiosk.bar.messages import ENGLISH, Language, Message, joined
from kiosk.bar.model import service_day

WEEKDAYS = (Message("Monday"), Message("Tuesday"), Message("Wednesday"), Message("Thursday"), Message("Friday"), Message("Saturday"),
            Message("Sunday"))
MONTHS = (Message("January"), Message("February"), Message("March"), Message("April"), Message("May"), Message("June"), Message("July"),
          Message("August"), Message("September"), Message("October"), Message("November"), Message("December"))

MOST_TIMED = 0.5            # of the pulls served, for a share to be said of them all
LEAST_G = 0.05              # less reads as nothing: "0.0 g"
CLOCKS_CHANGED = Message("The clocks changed: times are as the wall clock showed them, hours are counted as they passed.")
LEAST_WIDTHS = 7, 5, 5, 5, 11, 9, 6, 0      # of the columns of the text, so that days stand alike


def day_name(day: str) -> Message:
    """`day` ("2026-10-23") as "Friday 23 October 2026"."""
    when = date.fromisoformat(day)
    return Message("{weekday} {day:d} {month} {year:d}", weekday=WEEKDAYS[when.weekday()], day=when.day,
                month=MONTHS[when.month - 1], year=when.year)


def span_name(figures: Figures) -> Message:
    return span_of_days(figures.first_day, figures.last_day)


def span_of_days(first: str, last: str) -> Message:
    return day_name(first) if first == last else Message("{first} to {last}", first=day_name(first), last=day_name(last))


def day_sentence(figures: Figures, price_per_kg: float | None = None, currency: str = "") -> Message:
    """What matters, most of it first: the cups, the grinders, the waste and, where a price is set, what it cost."""
    if not figures.pulls:
        return no_pulls(span_name(figures), figures.waste_g(PURGE))
    parts = [cups(len(figures.pulls), figures.served, figures.judged, figures.in_window), _drift(figures)]
    if figures.waste_g() >= LEAST_G:
        parts.append(lost(figures.waste_g(PURGE), figures.waste_g(SINK), figures.waste_g(OVERDOSE), price_per_kg, currency))
    return joined("; ", [part for part in parts if part], ".")


def no_pulls(day: Message, purged_g: float) -> Message:
    return Message("No pulls on {day}, {grams:.0f} g purged.", day=day, grams=purged_g) if purged_g else \
        Message("No pulls on {day}.", day=day)


def lost(purged_g: float, sunk_g: float, overdosed_g: float, price_per_kg: float | None, currency: str) -> Message:
    """What coffee was lost, what it cost where a price is set, and the most of it to what."""
    grams_by = {PURGE: purged_g, SINK: sunk_g, OVERDOSE: overdosed_g}
    most, lost_g = max(grams_by, key=grams_by.__getitem__), sum(grams_by.values())
    where = {PURGE: Message("purges"), SINK: Message("sink shots"), OVERDOSE: Message("heavy doses")}[most]
    grams, money = _g(lost_g), worth(lost_g, price_per_kg)
    if money:
        grams = Message("{grams} ({money:.2f} {currency})", grams=grams, money=money, currency=currency) if currency else \
            Message("{grams} ({money:.2f})", grams=grams, money=money)
    return Message("{grams} lost, all {where}", grams=grams, where=where) if grams_by[most] >= lost_g - 0.05 else \
        Message("{grams} lost, mostly {where}", grams=grams, where=where)


def cups(n: int, served: int, judged: int, good: int) -> Message:
    """Of `n` pulls, how many were served, `judged` of those by their time, and `good`. A share stands for all that were served
    where most of them were timed; "all" is said of no other pulls than it is so of."""
    if served == 0:
        return Message("One pull, into the sink") if n == 1 else Message("{n:d} pulls, all of them into the sink", n=n)
    if n == 1:
        return Message("One pull, not timed") if not judged else Message("One pull, in its window") if good else \
            Message("One pull, outside its window")
    if judged == 0:
        return Message("{n:d} pulls, none of them timed", n=n)
    if good == n:
        return Message("{n:d} pulls, all in their window", n=n)
    if good == served:
        return Message("{n:d} pulls, all {served:d} served in their window", n=n, served=served)
    if good == judged or judged < MOST_TIMED * served:
        return Message("{n:d} pulls, {judged:d} timed, {good:d} in window", n=n, judged=judged, good=good)
    return Message("{n:d} pulls, {share:.0f} % in window", n=n, share=min(99.0, 100 * good / judged))     # all is said as all


def _drift(figures: Figures) -> Message | None:
    """The grinder that got furthest off in full; of the others only that they drifted too, so that ten seconds are enough."""
    if figures.first_day != figures.last_day:
        return _over_days(figures)
    drifted = sorted(((found, each) for each in figures.grinders if (found := onset(each))), key=lambda told: -abs(told[0].worst_s))
    if drifted:
        found, worst = drifted[0]
        how = {"grinder": worst.grinder, "since": found.since[11:16], "worst": round(found.worst_s, 1) + 0.0,
               "way": SLOWER if found.slower else FASTER}
        now_s = round(found.now_s, 1) + 0.0
        told = [Message("{grinder} drifted {way} from {since}, worst {worst:+.1f} s, now {now:+.1f} s", now=now_s, **how) if now_s
                else Message("{grinder} drifted {way} from {since}, worst {worst:+.1f} s, now right again", **how)]
        if len(drifted) == 2:
            told.append(Message("{grinder} too from {since}", grinder=drifted[1][1].grinder, since=drifted[1][0].since[11:16]))
        elif len(drifted) > 2:
            told.append(Message("{n:d} others too", n=len(drifted) - 1))
        return joined(", ", told)
    turned = [Message("{grinder}'s grind setting was changed {often}", grinder=each.grinder, often=_often(len(each.moves)))
              for each in figures.grinders if each.moves]
    if turned:
        return joined(", ", turned) if len(turned) < 3 else Message(
            "grind settings were changed {often}", often=_often(sum(len(each.moves) for each in figures.grinders)))
    known = [each for each in figures.grinders if each.drift]
    if not known:
        return Message("too few to tell drift") if len(figures.pulls) > 1 else None
    if len(known) == 1:
        return Message("no drift to tell on {grinder}", grinder=known[0].grinder)
    return Message("no drift to tell on any grinder")


def _over_days(figures: Figures) -> Message:
    """On how many of a span's days the watch found each grinder drifting."""
    told = []
    for each in figures.grinders:
        on = {service_day(flag.at) for flag in each.flags if flag.what == "drifting"}
        if on:
            told.append((len(on), Message("{grinder} drifted on {n:d} of {days:d} days", grinder=each.grinder, n=len(on),
                                          days=len({run.day for run in each.runs}))))
    told.sort(key=lambda found: -found[0])
    return joined(", ", [words for _, words in told[:2]]) if told else Message("no grinder was flagged for drift")


def _often(n: int) -> Message:
    return Message("once") if n == 1 else Message("twice") if n == 2 else Message("{n:d} times", n=n)


def as_text(figures: Figures, sentence: Message, things: tuple[ToDo, ...], title: str = "",
            language: Language = ENGLISH, runs: bool = True) -> str:
    """`runs`: whether each run at one setting, turn and flag is told by itself."""
    return _Text(language, runs).of(figures, sentence, things, title)


def head_of_text(title: str, name: Message, sentence: Message, heading: Message, things: tuple[ToDo, ...],
                 language: Language) -> list[str]:
    span = language.render(name)
    lines = [f"{title}, {span}" if title else span]
    lines += ["=" * len(lines[0]), language.render(sentence), ""]
    if things:
        lines.append(language.render(heading))
        for n, thing in enumerate(things, 1):
            lines += [f" {n}. {language.render(thing.what)}", f"    {language.render(thing.because)}"]
        lines.append("")
    return lines


class _Text:
    """All of it in one language."""

    def __init__(self, language: Language, runs: bool):
        self._language, self._runs = language, runs
        self._say = language.render

    def of(self, figures: Figures, sentence: Message, things: tuple[ToDo, ...], title: str) -> str:
        lines = head_of_text(title, span_name(figures), sentence, Message("To do tomorrow"), things, self._language)
        for each in figures.grinders:
            lines += [*self._grinder(each, figures.first_day != figures.last_day), ""]
        lines += map(self._say, (*_waste(figures), *_orders(figures), *_not_measured(figures)))
        return "\n".join(lines).rstrip() + "\n"

    def _grinder(self, each: GrinderFigures, several_days: bool) -> list[str]:
        pulls = pulls_told(each.pulls)
        if each.judged:
            pulls = Message("{pulls}, {good:d} of {judged:d} in their window", pulls=pulls, good=each.in_window,
                            judged=each.judged)
        lines = [f"{each.grinder}, {each.coffee}: {self._say(pulls)}"]
        if each.runs and self._runs:
            heads = [Message("setting"), Message("from"), Message("to"), Message("pulls"), Message("in window"), Message("adjusted time"),
                     Message("spread"), Message("drift an hour (95 %)")]
            table = [list(map(self._say, heads)), *(self._run(run) for run in each.runs)]
            days = [self._say(Message("day")), *(run.day for run in each.runs)]
            lines += [f"  {day:<10}  {row}" if several_days else f"  {row}" for day, row in zip(days, aligned(table))]
        told = []
        if each.drift and len(each.runs) > 1:
            told.append(Message("Drift an hour, allowing for changes of the grind setting: {drift}.", drift=_per_hour(each.drift)))
        if each.doses:
            told.append(Message("Doses weighed: {n:d}, {off:d} outside their tolerance.", n=each.doses,
                                off=each.doses_off))
        if self._runs:
            told += [Message("{at}  grind setting changed {how}", at=clock(move.at, several_days), how=moved(move)) for move in each.moves]
        lines += [f"  {self._say(words)}" for words in told]
        if not self._runs:
            return lines
        flag = self._say(Message("flag"))
        return lines + [f"  {clock(each.at, several_days)}  {flag}: {self._say(each.sentence)}" for each in each.flags]

    def _run(self, run: SettingRun) -> list[str]:
        judged = Message("{n:d} of {all:d}", n=run.in_window, all=run.judged) if run.judged else "–"
        even, spread = (Message("{s:.1f} s", s=s) if s is not None else "–" for s in (run.even_s, run.even_sd_s))
        drift = _per_hour(run.drift) if run.drift else "–"
        return [str(run.setting), run.since[11:16], run.until[11:16], str(len(run.pulls)),
                *map(self._say, (judged, even, spread, drift))]


def aligned(table: list[list[str]]) -> list[str]:
    """Columns that end alike, as wide as what is in them; the last begins alike."""
    least = (*LEAST_WIDTHS, *[0] * len(table[0]))
    widths = [max(wide, *map(len, column)) for wide, column in zip(least, zip(*table))]
    return ["  ".join((*(f"{cell:>{width}}" for cell, width in zip(row[:-1], widths)), row[-1])) for row in table]


def _waste(figures: Figures) -> list[Message]:
    if figures.waste_g() < LEAST_G:
        return [Message("Waste: none noted.")] if figures.pulls else []
    parts = [Message("{what} {grams}", what=what, grams=_g(figures.waste_g(why))) for why, what in
             ((PURGE, Message("purges")), (SINK, Message("sink shots")), (OVERDOSE, Message("over the dose's limit")))
             if figures.waste_g(why) >= LEAST_G]
    said = [Message("Waste: {grams}: {parts}.", grams=_g(figures.waste_g()), parts=joined(", ", parts))]
    assumed = sum(each.assumed for each in figures.waste)
    if assumed == 1:
        said.append(Message("1 sink shot not weighed: the recipe's dose was taken."))
    elif assumed:
        said.append(Message("{n:d} sink shots not weighed: the recipe's dose was taken.", n=assumed))
    return [joined(" ", said)]


def _orders(figures: Figures) -> list[Message]:
    served, cancelled = figures.orders_served, figures.orders_cancelled
    if cancelled:
        return [Message("Orders: {served:d} served, {cancelled:d} cancelled.", served=served, cancelled=cancelled)]
    return [Message("Orders: {served:d} served.", served=served)] if served else []


def _not_measured(figures: Figures) -> list[Message]:
    missing = [Message("{n:d} {what}", n=n, what=one if n == 1 else many) for one, many, n in (
        (Message("dose"), Message("doses"), sum(pull.dose_g is None for pull in figures.pulls)),
        (Message("yield"), Message("yields"), sum(pull.yield_g is None for pull in figures.pulls)),
        (Message("time"), Message("times"), sum(pull.time_s is None for pull in figures.pulls))) if n]
    lines = [Message("Not measured: {what}, of {pulls}.", what=joined(", ", missing),
                     pulls=pulls_told(len(figures.pulls)))] if missing else []
    if len({pull.at[-6:] for pull in figures.pulls}) > 1:
        lines.append(CLOCKS_CHANGED)
    return lines


def _per_hour(drift: Trend) -> Message:
    slope, low, high = (round(value, 1) + 0.0 for value in (drift.s_per_hour, drift.low, drift.high))   # no "-0.0"
    return Message("{s:+.1f} s ({low:+.1f} to {high:+.1f})", s=slope, low=low, high=high)


def pulls_told(n: int) -> Message:
    return Message("1 pull") if n == 1 else Message("{n:d} pulls", n=n)


def _g(grams: float) -> Message:
    if grams >= 10_000:
        return Message("{kg:.1f} kg", kg=grams / 1000)
    return Message("{g:.0f} g", g=grams) if grams >= 10 else Message("{g:.1f} g", g=grams)
