"""Weeks side by side as inline SVG: the share in window as a line, what was lost as bars by cause."""

from collections.abc import Iterable, Sequence
from html import escape

from kiosk.bar.evening import Week
from kiosk.bar.messages import ENGLISH, Language, Message
from kiosk.page.chart import LEFT, RIGHT, WIDE

TOP, PLOT, FOOT = 26, 150, 40
STRIPED = "sink-bar"
CAUSES = ("purged_g", "purge-bar"), ("sunk_g", STRIPED), ("overdosed_g", "over-bar")
SHARES_LEGEND = Message("Percent of the timed pulls in their window, week by week.")
LOST_LEGEND = Message("Coffee lost, week by week: full: purges; striped: sink shots; outlined: over the dose’s limit.")


def shares_svg(weeks: Sequence[Week], key: str = "", language: Language = ENGLISH) -> str:
    shares = [100 * week.in_window / week.timed if week.timed else None for week in weeks]
    least = min((share for share in shares if share is not None), default=0.0)
    low = 10 * int(max(0.0, least - 5) // 10)
    parts = _begun(f"{key}share", Message("In window, week by week"), Message("% in window"), weeks, language)
    parts += _lines(range(low, 101, 10 if low >= 50 else 20), low, 100, "%")
    places = [(_x(n, len(weeks)), _y(share, low, 100), weeks[n].name, share) for n, share in enumerate(shares) if share is not None]
    parts.append('<polyline class="curve" points="' + " ".join(f"{x:.1f},{y:.1f}" for x, y, _, _ in places) + '"/>')
    parts += [f'<circle class="told" cx="{x:.1f}" cy="{y:.1f}" r="3"><title>{name}: {language.number(share, ".0f")} %</title></circle>'
              for x, y, name, share in places]
    return "".join((*parts, "</svg>"))


def lost_svg(weeks: Sequence[Week], key: str = "", language: Language = ENGLISH) -> str:
    most = max(1.0, *(week.wasted_g for week in weeks))
    step = next(step for step in (n * 10 ** power for power in range(7) for n in (1, 2, 5)) if most / step <= 5)
    top = step * -(-most // step)
    parts = _begun(f"{key}lost", Message("Coffee lost, week by week"), Message("grams a week"), weeks, language)
    parts += _lines(range(0, int(top) + 1, step), 0, top, "g")
    wide = max(2.0, 0.7 * (WIDE - LEFT - RIGHT) / len(weeks))
    for n, week in enumerate(weeks):
        below = 0.0
        for field, kind in CAUSES:
            grams = getattr(week, field)
            if grams:
                x, y, foot = _x(n, len(weeks)), _y(below + grams, 0, top), _y(below, 0, top)
                said = f"<title>{week.name}: {language.number(grams, '.0f')} g</title>"
                parts.append(f'<path class="{kind}" stroke-width="{wide:.1f}" d="M{x:.1f} {foot:.1f}V{y:.1f}">{said}</path>'
                             if kind == STRIPED else
                             f'<rect class="{kind}" x="{x - wide / 2:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{foot - y:.1f}">'
                             f'{said}</rect>')
                below += grams
    return "".join((*parts, "</svg>"))


def _x(n: int, of: int) -> float:
    return LEFT + (n + 0.5) / of * (WIDE - LEFT - RIGHT)


def _y(value: float, low: float, high: float) -> float:
    return TOP + (high - value) / (high - low) * PLOT


def _begun(id: str, title: Message, unit: Message, weeks: Sequence[Week], language: Language) -> list[str]:
    """The drawing's head: its title, the unit over its axis, and the weeks under it, as many as there is room for."""
    about = Message("{n:d} weeks from {first} to {last}", n=len(weeks), first=weeks[0].name, last=weeks[-1].name)
    every = -(-len(weeks) // 14)
    names = "".join(f'<text class="quiet" x="{_x(n, len(weeks)):.1f}" y="{TOP + PLOT + 16}" text-anchor="middle">'
                    f'{week.name[5:] if len(weeks) > 6 else week.name}</text>' for n, week in enumerate(weeks) if n % every == 0)
    return [f'<svg viewBox="0 0 {WIDE} {TOP + PLOT + FOOT}" role="img" aria-labelledby="{id}t {id}d">'
            f'<title id="{id}t">{escape(language.render(title))}</title><desc id="{id}d">{escape(language.render(about))}</desc>'
            f'<text x="{LEFT}" y="14">{escape(language.render(title))}</text>'
            f'<text class="quiet" x="{WIDE - RIGHT}" y="14" text-anchor="end">{escape(language.render(unit))}</text>{names}'
            f'<text class="quiet" x="{(WIDE + LEFT) / 2:.0f}" y="{TOP + PLOT + 34}" text-anchor="middle">'
            f'{escape(language.render(Message("week of the year")))}</text>']


def _lines(values: Iterable[int], low: float, high: float, unit: str) -> list[str]:
    return [f'<line class="grid" x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{_y(value, low, high):.1f}" y2="{_y(value, low, high):.1f}"/>'
            f'<text class="quiet" x="{LEFT - 8}" y="{_y(value, low, high) + 4:.1f}" text-anchor="end">{value} {unit}</text>'
            for value in values]
