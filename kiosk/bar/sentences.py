"""The evening in words: one sentence first, then the figures as plain text that can be read on any screen."""

from datetime import date

from kiosk.bar.figures import OVERDOSE, PURGE, SINK, Figures, GrinderFigures, Stretch
from kiosk.bar.tomorrow import ToDo
from kiosk.bar.trend import Trend

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WORTH_SAYING_S = 1.5
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")


def day_name(day: str) -> str:
    """`day` ("2026-10-23") as "Friday 23 October 2026"."""
    when = date.fromisoformat(day)
    return f"{WEEKDAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]} {when.year}"


def span_name(figures: Figures) -> str:
    if figures.first_day == figures.last_day:
        return day_name(figures.first_day)
    return f"{day_name(figures.first_day)} to {day_name(figures.last_day)}"


def day_sentence(figures: Figures) -> str:
    """What matters, most of it first: the cups, the grinders, the waste."""
    if not figures.pulls:
        purged_g = figures.waste_g(PURGE)
        return f"No pulls on {span_name(figures)}" + (f", {purged_g:.0f} g purged." if purged_g else ".")
    parts = [_cups(figures), _drift(figures)]
    if figures.waste:
        most = max((PURGE, SINK, OVERDOSE), key=figures.waste_g)
        name = {PURGE: "in purges", SINK: "in sink shots", OVERDOSE: "in heavy doses"}[most]
        parts.append(f"{_g(figures.waste_g())} of coffee was lost, most of it {name}")
    return "; ".join(part for part in parts if part) + "."


def _cups(figures: Figures) -> str:
    n, served, judged, good = len(figures.pulls), figures.served, figures.judged, figures.in_window
    if served == 0:
        return "One pull, into the sink" if n == 1 else f"{n} pulls, all of them into the sink"
    if n == 1:
        return "One pull, " + ("not timed" if not judged else "in its window" if good else "outside its window")
    if judged == 0:
        return f"{n} pulls, none of them timed"
    if good == judged:
        return f"{n} pulls, all in their window"
    return f"{n} pulls, {good} of {judged} in their window ({100 * good / judged:.0f} %)"


def _drift(figures: Figures) -> str:
    told = [_moved(each) for each in figures.grinders]
    known = [each for each in figures.grinders if each.drift]
    if any(told):
        return ", ".join(words for words in told if words)
    if not known:
        return "too few to tell drift" if len(figures.pulls) > 1 else ""
    if len(known) == 1:
        return f"no drift to tell on {known[0].grinder}"
    return "no drift to tell on any grinder"


def _moved(each: GrinderFigures) -> str:
    drift, n = each.drift, len(each.moves)
    turned = f"was moved {'once' if n == 1 else 'twice' if n == 2 else f'{n} times'}" if n else ""
    ran = ""
    if drift and drift.sure and drift.in_all_s >= WORTH_SAYING_S:
        ran = f"ran {abs(drift.s_per_hour):.1f} s {'slower' if drift.s_per_hour > 0 else 'faster'} each hour"
    words = " and ".join(part for part in (ran, turned) if part)
    return f"{each.grinder} {words}" if words else ""


def as_text(figures: Figures, sentence: str, things: tuple[ToDo, ...], title: str = "") -> str:
    lines = [f"{title}, {span_name(figures)}" if title else span_name(figures)]
    lines += ["=" * len(lines[0]), sentence, ""]
    if things:
        lines.append("To do tomorrow")
        for n, thing in enumerate(things, 1):
            lines += [f" {n}. {thing.what}", f"    {thing.because}"]
        lines.append("")
    for each in figures.grinders:
        lines += [*_grinder(each, figures.first_day != figures.last_day), ""]
    lines += _waste(figures)
    if figures.orders_served or figures.orders_cancelled:
        cancelled = f", {figures.orders_cancelled} cancelled" if figures.orders_cancelled else ""
        lines.append(f"Orders: {figures.orders_served} served{cancelled}.")
    lines += _not_measured(figures)
    return "\n".join(lines).rstrip() + "\n"


def _grinder(each: GrinderFigures, several_days: bool) -> list[str]:
    head = f"{each.grinder}, {each.coffee}: {_count(each.pulls, 'pull')}"
    if each.judged:
        head += f", {each.in_window} of {each.judged} in their window"
    lines = [head]
    if each.stretches:
        day = f"{'day':<12}" if several_days else ""
        lines.append(f"  {day}{'setting':>7}  {'from':>5}  {'to':>5}  {'pulls':>5}  {'in window':>11}  {'even time':>9}"
                     f"  {'spread':>6}  drift an hour (95 %)")
        lines += [_stretch(stretch, several_days) for stretch in each.stretches]
    if each.drift and len(each.stretches) > 1:
        lines.append(f"  Drift an hour, notches taken out: {_per_hour(each.drift)}.")
    if each.doses:
        lines.append(f"  Doses weighed: {each.doses}, {each.doses_off} outside their tolerance.")
    lines += [f"  {_clock(move.at, several_days)}  moved {move.before} to {move.after}" for move in each.moves]
    lines += [f"  {_clock(flag.at, several_days)}  flag: {flag.sentence}" for flag in each.flags]
    return lines


def _stretch(stretch: Stretch, several_days: bool) -> str:
    day = f"{stretch.day:<12}" if several_days else ""
    judged = f"{stretch.in_window} of {stretch.judged}" if stretch.judged else "–"
    even = f"{stretch.even_s:.1f} s" if stretch.even_s is not None else "–"
    spread = f"{stretch.even_sd_s:.1f} s" if stretch.even_sd_s is not None else "–"
    drift = _per_hour(stretch.drift) if stretch.drift else "–"
    return (f"  {day}{stretch.setting:>7}  {stretch.since[11:16]}  {stretch.until[11:16]}  {len(stretch.pulls):>5}"
            f"  {judged:>11}  {even:>9}  {spread:>6}  {drift}")


def _waste(figures: Figures) -> list[str]:
    if not figures.waste:
        return ["Waste: none noted."] if figures.pulls else []
    parts = [f"{name} {_g(figures.waste_g(why))}" for why, name in
             ((PURGE, "purges"), (SINK, "sink shots"), (OVERDOSE, "over the dose's limit")) if figures.waste_g(why)]
    assumed = sum(each.assumed for each in figures.waste)
    note = f" {_count(assumed, 'sink shot')} not weighed: the recipe's dose was taken." if assumed else ""
    return [f"Waste: {_g(figures.waste_g())}: {', '.join(parts)}.{note}"]


def _not_measured(figures: Figures) -> list[str]:
    missing = [f"{n} {name}" for name, n in (
        ("doses", sum(pull.dose_g is None for pull in figures.pulls)),
        ("yields", sum(pull.yield_g is None for pull in figures.pulls)),
        ("times", sum(pull.time_s is None for pull in figures.pulls))) if n]
    lines = [f"Not measured: {', '.join(missing)}, of {_count(len(figures.pulls), 'pull')}."] if missing else []
    if len({pull.at[-6:] for pull in figures.pulls}) > 1:
        lines.append("The clocks changed: times are as the wall clock showed them, hours are counted as they passed.")
    return lines


def _per_hour(drift: Trend) -> str:
    slope, low, high = (round(value, 1) + 0.0 for value in (drift.s_per_hour, drift.low, drift.high))   # no "-0.0"
    return f"{slope:+.1f} s ({low:+.1f} to {high:+.1f})"


def _clock(at: str, several_days: bool) -> str:
    return at[:16].replace("T", " ") if several_days else at[11:16]


def _count(n: int, name: str) -> str:
    return f"{n} {name}" if n == 1 else f"{n} {name}s"


def _g(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 10 else f"{grams:.1f} g"
