"""A grinder's day, and a pull's curve, as inline SVG. Every mark is told by its shape; the colour only helps."""

from bisect import bisect_right
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from html import escape
from math import ceil

from kiosk.bar.evening import BEANS, BURRS, CLEANED, FLAG, NOTCH, PURGE, ROOM, SCALE, DayChart, GrinderWeeks, Mark, moment
from kiosk.bar.messages import ENGLISH, Language, Message, joined, render
from kiosk.bar.model import Pull

WIDE, LEFT, RIGHT, TOP, PLOT = 960, 64, 12, 46, 230
LANE = 20                       # height of a row of notes under the plot
LANES = BEANS, ROOM, CLEANED, BURRS, SCALE
REACH = 2.2                     # windows above and below the recipe; what lies outside is drawn on the edge
A_LETTER = 7.0                  # width of one, so that no two words lie on each other
LEGEND = Message("Dots: pulls; rings: pulls that say nothing of the grinder; crosses: sink shots. Band: the recipe’s "
                 "window. Thick line: the level at each setting, rising or falling where it drifts for sure; dashed: its "
                 "limits. Upright lines: notches moved; squares: purges; flags at the top.")
SUITS_LEGEND = Message("The best setting: where a day’s pulls would have run as the recipe has it. Lower is "
                       "finer. Triangles: new bags; upright lines: new burrs.")


WEEK_H = 24 * 7
DAYS = timedelta(hours=48)
MOST_POINTS = 3000


def day_svg(chart: DayChart, number: str, language: Language = ENGLISH) -> str:
    """Even times over the day; `number` keeps its titles' ids apart from other charts'."""
    moments = [moment(each.at) for each in (*chart.points, *chart.marks)]
    begins, ends = min(moments), max(moments)
    if ends - begins < timedelta(hours=1):
        ends = begins + timedelta(hours=1)
    reach = chart.within_s * REACH
    lanes = [kind for kind in LANES if any(mark.kind == kind for mark in chart.marks)]
    height = TOP + PLOT + 28 + LANE * len(lanes)

    def x(at: str | datetime) -> float:
        when = at if isinstance(at, datetime) else moment(at)
        return LEFT + (when - begins) / (ends - begins) * (WIDE - LEFT - RIGHT)

    def y(off_s: float) -> float:
        return TOP + PLOT / 2 - max(-1.0, min(1.0, off_s / reach)) * PLOT / 2

    levels = [Message("at {setting} from {since} {s:+.1f} s off", setting=level.setting, since=level.since[11:16],
                      s=level.off_s) for level in chart.levels]
    about = Message("{n:d} pulls; {levels}.", n=len(chart.points),
                    levels=joined(", ", levels) if levels else Message("none to chart"))
    title = Message("{grinder}, {coffee}: adjusted times, seconds off the recipe", grinder=chart.grinder, coffee=chart.coffee)
    parts = [f'<svg viewBox="0 0 {WIDE} {height}" role="img" aria-labelledby="c{number}t c{number}d">',
             f'<title id="c{number}t">{escape(language.render(title))}</title>',
             f'<desc id="c{number}d">{escape(language.render(about))}</desc>',
             f'<rect class="band" x="{LEFT}" y="{y(chart.within_s):.1f}" width="{WIDE - LEFT - RIGHT}" '
             f'height="{y(-chart.within_s) - y(chart.within_s):.1f}"/>']
    for seconds in _steps(reach):
        parts.append(f'<line class="{"grid" if seconds else "zero"}" x1="{LEFT}" x2="{WIDE - RIGHT}" '
                     f'y1="{y(seconds):.1f}" '
                     f'y2="{y(seconds):.1f}"/><text class="quiet" x="{LEFT - 8}" y="{y(seconds) + 4:.1f}" '
                     'text-anchor="end">'
                     f'{f"{seconds:+d} s" if seconds else escape(language.render(Message("right")))}</text>')
    parts.append(f'<text class="quiet" x="{LEFT}" y="14">{escape(language.render(Message("seconds off the recipe, up is slower")))}</text>'
                 f'<text class="quiet" x="{WIDE - RIGHT}" y="14" text-anchor="end">'
                 f'{escape(language.render(Message("across: days") if ends - begins > DAYS else Message("across: time of day")))}</text>')
    parts += _hours(chart, begins, ends, x)
    for level in chart.levels:
        a, b = x(level.since), max(x(level.until), x(level.since) + 3)
        for off_s, kind in ((level.off_s, "level"), (level.low_s, "limit"), (level.high_s, "limit")):
            if off_s is not None:
                parts.append(f'<line class="{kind}" x1="{a:.1f}" x2="{b:.1f}" y1="{y(off_s):.1f}" y2="{y(off_s + level.climbs_s):.1f}"/>')
    parts += _done(chart.marks, x, language)
    for point in chart.points if len(chart.points) <= MOST_POINTS else ():      # of months, the levels alone
        px, py = x(point.at), y(point.off_s)
        ran = Message("{at}, {s:+.1f} s at {setting}", at=point.at[11:16], s=point.off_s, setting=point.setting)
        if point.sink:
            ran = Message("{ran}, sink: {why}", ran=ran, why=Message(point.sink))
        title = f"<title>{escape(language.render(ran))}</title>"
        if point.sink is not None:
            parts.append(f'<path class="sink" d="M{px - 4:.1f} {py - 4:.1f}l8 8m0-8l-8 8">{title}</path>')
        else:
            parts.append(f'<circle class="{"told" if point.told else "slip"}" cx="{px:.1f}" cy="{py:.1f}" r="3.2">'
                         f'{title}</circle>')
    for n, kind in enumerate(lanes):
        parts += _lane([mark for mark in chart.marks if mark.kind == kind], language.render(kind),
                       TOP + PLOT + 22 + LANE * n + 15, x, language)
    return "".join(parts) + "</svg>"


def curve_svg(pull: Pull, language: Language = ENGLISH) -> str:
    """Grams in the cup over seconds, with the window where it should end; empty where the pull has no curve."""
    if len(pull.trace) < 2:
        return ""
    (from_s, to_s), (from_g, to_g) = pull.recipe.time_window_s, pull.recipe.yield_window_g
    wide, high = 400, 180
    most_s, most_g = max(to_s * 1.15, pull.trace[-1][0]), max(to_g * 1.15, max(g for _, g in pull.trace))

    def x(seconds: float) -> float:
        return 40 + seconds / most_s * (wide - 50)

    def y(grams: float) -> float:
        return high - 24 - grams / most_g * (high - 34)

    units = (f'<text class="quiet" x="4" y="12">{language.render(Message("grams in the cup"))}</text>'
             f'<text class="quiet" x="{wide - 10}" y="{high - 28}" text-anchor="end">{language.render(Message("seconds"))}</text>')
    line = " ".join(f"{x(max(0, s)):.1f},{y(max(0, g)):.1f}" for s, g in pull.trace)
    ticks = "".join(f'<text class="quiet" x="{x(s):.1f}" y="{high - 8}" text-anchor="middle">'
                    f'{language.number(s, "g")} s</text>' for s in (from_s, to_s)) \
        + "".join(f'<text class="quiet" x="36" y="{y(g) + 4:.1f}" text-anchor="end">{g:.0f} g</text>'
                  for g in (from_g, to_g))
    about = Message("Grams in the cup over seconds: {g:.1f} g after {s:.0f} s", g=pull.trace[-1][1], s=pull.trace[-1][0])
    return (f'<svg class="trace" viewBox="0 0 {wide} {high}" role="img" aria-label="{escape(language.render(about))}">'
            f'<rect class="band" x="{x(from_s):.1f}" y="{y(to_g):.1f}" width="{x(to_s) - x(from_s):.1f}" '
            f'height="{y(from_g) - y(to_g):.1f}"/><polyline class="grid" fill="none" '
            f'points="40,10 40,{high - 24} {wide - 10},{high - 24}"/><polyline class="curve" points="{line}"/>'
            f'{ticks}{units}</svg>')


def suits_svg(each: GrinderWeeks, number: str, language: Language = ENGLISH) -> str:
    """The setting that suited a coffee, day by day; finer is lower. A day without pulls leaves a gap; a triangle on the floor is
    a new bag, an upright line new burrs."""
    days = [date.fromisoformat(one.day).toordinal() for one in each.suits]
    settings = [one.setting for one in each.suits]
    low, high = min(settings), max(settings)
    if high - low < 2:
        low, high = (low + high) / 2 - 1, (low + high) / 2 + 1
    tall, above, span = 150, 24, max(1, days[-1] - days[0])

    def x(day: int) -> float:
        return LEFT + 10 + (day - days[0]) / span * (WIDE - LEFT - RIGHT - 20)

    def y(setting: float) -> float:
        return above + 12 + (high - setting) / (high - low) * tall

    about = Message("{then:.1f} on {first}, {now:.1f} on {last}.", then=settings[0], first=each.suits[0].day,
                    now=settings[-1], last=each.suits[-1].day)
    title = Message("{grinder}, {coffee}: best setting, day by day", grinder=each.grinder,
                    coffee=each.coffee)
    parts = [f'<svg viewBox="0 0 {WIDE} {above + tall + 58}" role="img" aria-labelledby="s{number}t s{number}d">'
             f'<title id="s{number}t">{escape(language.render(title))}</title>'
             f'<desc id="s{number}d">{escape(language.render(about))}</desc><text x="{LEFT}" y="14">{escape(language.render(title))}</text>'
             f'<text class="quiet" x="{WIDE - RIGHT}" y="14" text-anchor="end">{escape(language.render(Message("setting, in notches")))}'
             '</text>']
    floor = above + 12 + tall
    for kind, dates in ((BEANS, each.bags), (BURRS, each.burrs)):
        for when in dates:
            ordinal = date.fromisoformat(when).toordinal()
            if days[0] <= ordinal <= days[-1]:
                shape = f'<path class="purge" d="M{x(ordinal):.1f} {floor + 1:.1f}l4 8h-8z">' if kind == BEANS else \
                    f'<path class="notch" d="M{x(ordinal):.1f} {above + 4}V{floor:.1f}">'
                parts.append(f'{shape}<title>{when}: {escape(language.render(kind))}</title></path>')
    for notch in range(ceil(low), int(high) + 1, max(1, int((high - low) / 5))):
        parts.append(f'<line class="grid" x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y(notch):.1f}" y2="{y(notch):.1f}"/>'
                     f'<text class="quiet" x="{LEFT - 8}" y="{y(notch) + 4:.1f}" text-anchor="end">{notch}</text>')
    runs: list[list[str]] = [[]]
    for n, (day, setting) in enumerate(zip(days, settings)):
        if n and day - days[n - 1] > 3:
            runs.append([])
        runs[-1].append(f"{x(day):.1f},{y(setting):.1f}")
        if len(days) <= 120:
            parts.append(f'<circle class="told" cx="{x(day):.1f}" cy="{y(setting):.1f}" r="3"><title>'
                         f'{each.suits[n].day}: '
                         f"{language.number(setting, '.1f')}</title></circle>")
    parts += [f'<polyline class="curve" points="{" ".join(run)}"/>' for run in runs if len(run) > 1]
    for one, at, anchor in ((each.suits[0], LEFT, "start"), (each.suits[-1], WIDE - RIGHT, "end")):
        parts.append(f'<text class="quiet" x="{at}" y="{above + tall + 46}" text-anchor="{anchor}">{one.day}</text>')
    return "".join(parts) + "</svg>"


def _steps(reach: float) -> list[int]:
    step = next(step for step in (1, 2, 5, 10, 20, 50) if reach / step <= 4.5)
    return [n * step for n in range(-int(reach / step), int(reach / step) + 1)]


def _hours(chart: DayChart, begins: datetime, ends: datetime, x) -> Iterable[str]:
    """Ticks on whole hours, each by the clock that hung on the wall then; on days where there are many."""
    offsets = sorted(((moment(each.at), moment(each.at).tzinfo) for each in (*chart.points, *chart.marks)), key=lambda pair: pair[0])
    long = (ends - begins) / timedelta(hours=1)
    every = next((hours for hours in (1, 2, 4, 24, 48) if long / hours <= 14), WEEK_H * max(1, -(-long // (14 * WEEK_H))))
    moments = [pair[0] for pair in offsets]
    when = begins.astimezone(offsets[0][1]).replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    while when <= ends:
        zone = offsets[max(0, bisect_right(moments, when) - 1)][1]
        local = when.astimezone(zone)
        if local.hour % min(every, 24) == 0 and (every <= 24 or local.toordinal() % int(every // 24) == 0):
            label = f"{local:%H:%M}" if every < 24 else f"{local.day}.{local.month}."
            yield (f'<line class="grid" x1="{x(when):.1f}" x2="{x(when):.1f}" y1="{TOP}" y2="{TOP + PLOT}"/>'
                   f'<text class="quiet" x="{x(when):.1f}" y="{TOP + PLOT + 15}" text-anchor="middle">{label}</text>')
        when += timedelta(hours=1)


def _done(marks: tuple[Mark, ...], x, language: Language) -> Iterable[str]:
    free = float("-inf")
    for mark in marks:
        at, title = x(mark.at), f"<title>{mark.at[11:16]} {escape(language.render(mark.words))}</title>"
        if mark.kind == NOTCH:
            yield f'<line class="notch" x1="{at:.1f}" x2="{at:.1f}" y1="{TOP - 4}" y2="{TOP + PLOT}">{title}</line>'
            if at > free:
                words = "{before}→{after}".format(**mark.words.values)
                anchor = "end" if at > WIDE - 40 else "middle"
                yield f'<text x="{at:.1f}" y="{TOP - 8}" text-anchor="{anchor}">{escape(words)}</text>'
                free = at + A_LETTER * len(words) + 6
        elif mark.kind == PURGE:
            yield f'<rect class="purge" x="{at - 4:.1f}" y="{TOP + PLOT - 9}" width="8" height="8">{title}</rect>'
        elif mark.kind == FLAG:
            yield f'<path class="flag" d="M{at:.1f} {TOP}v18h-2v-18l14 5l-12 5z">{title}</path>'


def _lane(marks: list[Mark], name: str, y: float, x, language: Language) -> Iterable[str]:
    yield f'<text class="quiet" x="{LEFT - 8}" y="{y}" text-anchor="end">{escape(name)}</text>'
    free = LEFT
    places = [x(mark.at) for mark in marks]
    for mark, at, following in zip(marks, places, [*places[1:], float(WIDE)]):
        title = f"<title>{mark.at[11:16]} {escape(language.render(mark.words))}</title>"
        yield f'<path class="mark" d="M{at:.1f} {y - 9}l4 5l-4 5l-4-5z">{title}</path>'
        words = render(mark.short or mark.words, language)
        width = 14 + A_LETTER * len(words)
        if at + width < following:
            yield _words(at, y, words, end=False)
            free = at + width
        elif at - width > free:
            yield _words(at, y, words, end=True)
            free = at + 8
        else:
            free = at + 8


def _words(at: float, y: float, words: str, end: bool) -> str:
    anchor = ' text-anchor="end"' if end else ""
    return f'<text x="{at - 8 if end else at + 8:.1f}" y="{y}"{anchor}>{escape(words)}</text>'
