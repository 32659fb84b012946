"""The charts of `python -m kiosk drift` as one page: no script, nothing fetched, dark or light as the reader has it."""

from collections.abc import Sequence
from html import escape
from itertools import groupby
from math import ceil, floor

WIDTH, LEFT, RIGHT = 960, 56, 12
TOP, TIMES, BETWEEN, EVIDENCE, BOTTOM = 16, 220, 34, 120, 62
# Okabe-Ito colours; the shape says the same
MARKS = {
    "steady": ("#0072B2", "within"), "odd": ("#CC79A7", "an odd pull"), "drifting": ("#D55E00", "drifting"),
    "began_off": ("#E69F00", "began off"), "spread": ("#009E73", "spread wider"), "unknown": ("#888888", "not judged"),
}
CAPTION = ("Above: each pull's adjusted time, off its recipe, with the level the grinder is thought to be at; the time "
           "window is shaded, a line stands where the setting changed. Below: the evidence for drift; past the dashed "
           "limits the kiosk says that the grinder drifts.")
STYLE = """
:root { color-scheme: light dark; --ink: #111; --paper: #fff; --faint: #bbb }
@media (prefers-color-scheme: dark) { :root { --ink: #eee; --paper: #15171a; --faint: #555 } }
body { font: 16px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper); max-width: 62rem;
  margin: 1rem auto; padding: 0 1rem }
figure { margin: 0 } svg { width: 100%; height: auto } svg text { fill: var(--ink); font-size: 13px }
.line { stroke: var(--ink); fill: none; stroke-width: 1.5 } .faint { stroke: var(--faint); fill: none }
.limit { stroke: #D55E00; stroke-dasharray: 6 4; fill: none } .window { fill: #009E73; opacity: 0.13 }
@media print { :root { --ink: #000; --paper: #fff } figure { break-inside: avoid } }
"""


def page(name: str, judged: Sequence) -> str:
    """The page for pulls judged from the file `name`: two charts for each grinder and coffee, and what to do."""
    key = lambda each: (each.pull.grinder, each.pull.coffee)   # noqa: E731
    parts = [_section(*who, list(group)) for who, group in groupby(sorted(judged, key=key), key)]
    return ("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width\">\n"
            f"<title>Drift: {escape(name)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
            f"<h1>Drift: {escape(name)}</h1>\n" + "\n".join(parts) + "\n</body>\n</html>\n")


def _section(grinder: str, coffee: str, judged: list) -> str:
    advice = judged[-1].verdict.advice.sentence
    flags = [f"<li>{escape(each.pull.at[:16] or f'line {each.line}')}: {escape(each.verdict.flag.sentence)}</li>"
             for each in judged if each.verdict.flag]
    told = f"<ul>\n{chr(10).join(flags)}\n</ul>" if flags else "<p>No flag was raised.</p>"
    return (f"<section>\n<h2>{escape(grinder)}, {escape(coffee)}</h2>\n<p><strong>{escape(advice)}</strong></p>\n"
            f"<figure>\n{_svg(grinder, judged)}\n<figcaption>{CAPTION}</figcaption>\n</figure>\n"
            f"{told}\n</section>")


class _Axis:
    def __init__(self, low: float, high: float, top: float, height: float):
        self.low, self.high, self.top, self.height = low, high, top, height

    def __call__(self, value: float) -> float:
        value = min(max(value, self.low), self.high)
        return round(self.top + self.height * (self.high - value) / (self.high - self.low), 1)


def _svg(grinder: str, judged: list) -> str:
    step = (WIDTH - LEFT - RIGHT) / max(len(judged), 2)
    xs = [round(LEFT + step * (n + 0.5), 1) for n in range(len(judged))]
    seen = [(x, each) for x, each in zip(xs, judged) if each.verdict.deviation_s is not None]
    within_s = judged[-1].pull.recipe.time_within_s
    reach = min(30, max([within_s + 1, *(abs(each.verdict.deviation_s) for _, each in seen)]))
    times = _Axis(-ceil(reach), ceil(reach), TOP, TIMES)
    limit = judged[-1].verdict.high
    most = max([limit * 1.3, *(abs(each.verdict.value) for each in judged)])
    odds = _Axis(-most, most, TOP + TIMES + BETWEEN, EVIDENCE)
    height = TOP + TIMES + BETWEEN + EVIDENCE + BOTTOM
    end = WIDTH - RIGHT
    parts = [f'<rect class="window" x="{LEFT}" y="{times(within_s)}" width="{end - LEFT}" '
             f'height="{times(-within_s) - times(within_s):.1f}"/>']
    tick = 5 if reach <= 15 else 10
    for s in range(floor(-reach / tick) * tick, ceil(reach) + 1, tick):
        if abs(s) <= reach:
            parts.append(f'<path class="faint" d="M{LEFT} {times(s)}H{end}"/>'
                         f'<text x="{LEFT - 8}" y="{times(s) + 4}" text-anchor="end">{s:+d} s</text>')
    clear = 0.0                       # how far labels have been written: where two would overlap, the line stands alone
    for x, a, b in zip(xs[1:], judged, judged[1:]):
        if a.pull.setting != b.pull.setting:
            at = round(x - step / 2, 1)
            parts.append(f'<path class="line" d="M{at} {TOP}V{height - BOTTOM}"/>')
            if at >= clear:
                parts.append(f'<text x="{at + 3}" y="{TOP + 10}">{b.pull.setting}</text>')
                clear = at + 12 + 8 * len(str(b.pull.setting))
    parts.append(_path([(x, times(each.verdict.level_s)) for x, each in seen], "line"))
    parts += [_mark(each.verdict.kind, x, times(each.verdict.deviation_s)) for x, each in seen]
    for value in (limit, 0.0, -limit):
        parts.append(f'<path class="{"limit" if value else "faint"}" d="M{LEFT} {odds(value)}H{end}"/>')
    for value, word in ((limit, "slower"), (-limit, "faster")):
        parts.append(f'<text x="{LEFT - 8}" y="{odds(value) + 4}" text-anchor="end">{word}</text>')
    parts.append(_path([(x, odds(each.verdict.value)) for x, each in seen], "line"))
    parts += _across(xs, judged, TOP + TIMES + BETWEEN + EVIDENCE)
    x = LEFT
    for kind in dict.fromkeys(each.verdict.kind for _, each in seen):
        parts.append(_mark(kind, x + 6, height - 10) + f'<text x="{x + 16}" y="{height - 6}">{MARKS[kind][1]}</text>')
        x += 130
    flags = sum(each.verdict.flag is not None for each in judged)
    return (f'<svg viewBox="0 0 {WIDTH} {height}" role="img" '
            f'aria-label="{len(judged)} pulls of {escape(grinder, quote=True)}, {flags} flags">\n'
            + "\n".join(parts) + "\n</svg>")


def _across(xs: list[float], judged: list, foot: float) -> list[str]:
    """What stands under the charts: the time of the first pull and of others with room between them, the date where it changes;
    where no pull has a time, how many it is. Pulls stand one beside the other, so that a quiet hour takes no room."""
    timed = any(each.pull.at for each in judged)
    parts, clear, day = [], 0.0, ""
    for n, (x, each) in enumerate(zip(xs, judged), 1):
        at = each.pull.at
        if x < clear or timed and not at:
            continue
        label = f"{at[5:10]} {at[11:16]}" if timed and at[:10] != day else at[11:16] if timed else str(n)
        day = at[:10]
        clear = x + 10 + 8 * len(label)
        parts.append(f'<path class="faint" d="M{x} {foot}v5"/><text x="{x}" y="{foot + 18}" text-anchor="start">{label}</text>')
    what = "when each pull was made, one beside the other" if timed else "pulls, counted from the first"
    return [*parts, f'<text x="{WIDTH - RIGHT}" y="{foot + 34}" text-anchor="end">{what}</text>']


def _path(points: list[tuple[float, float]], kind: str) -> str:
    return f'<path class="{kind}" d="M{"L".join(f"{x} {y}" for x, y in points)}"/>' if points else ""


def _mark(kind: str, x: float, y: float) -> str:
    colour = MARKS[kind][0]
    if kind == "drifting":
        return f'<path fill="{colour}" d="M{x - 5} {y + 4}h10l-5 -9z"/>'
    if kind == "began_off":
        return f'<rect fill="{colour}" x="{x - 4}" y="{y - 4}" width="8" height="8"/>'
    if kind == "odd":
        return f'<path fill="none" stroke="{colour}" stroke-width="2" d="M{x} {y - 5}l5 5l-5 5l-5 -5z"/>'
    if kind == "spread":
        return f'<path stroke="{colour}" stroke-width="2.5" d="M{x - 4} {y - 4}l8 8m0 -8l-8 8"/>'
    return f'<circle fill="{colour}" cx="{x}" cy="{y}" r="3"/>'
