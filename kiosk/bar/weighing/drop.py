"""The first drop: told from a knock, a hand on the tray, the pump's hum and a drip from the group."""

from math import hypot

from kiosk.bar.model import Recipe
from kiosk.bar.weighing import stream
from kiosk.bar.weighing.plate import KEPT_S, Plate

QUIET_S = 1.5              # after a jump nothing is believed for so long
CONFIRM_S = 0.4            # a stream that seems to begin must still seem so this much later
SHAKEN_S, NOT_BEFORE_S = 0.6, 1.5       # what only seems to come: not so soon after a jump, nor after pump on,
SEEMS_G, SEEMS_SPREADS = 0.3, 4.0       # and so far over the level before, in grams and in what that shook by
LOOK_AGAIN_S = 1.0         # it is told at once, and once more when the stream has shown its pace
SEEN_FOR_S, NEAR_S = 6.0, 3.5
MORE_SEEN_S = 0.15         # a later look that is a little vaguer by its own account is the better one still
LEVEL_S = 0.3              # of level that must be seen before the bend
NEARER_FITS = 1.3
UNKNOWN_S = 0.38           # what stays unknown of the scale's delay and the stream's gathering, 19 times in 20
VAGUE_S = 0.55             # wider than this, a first drop is better not told


class DropWatch:
    """Looks for the bend where a level cup begins to fill."""

    def __init__(self, recipe: Recipe):
        self.usual_g_per_s = recipe.yield_g / recipe.time_window_s[0]
        self._maybe_s: float | None = None
        self._within_s = VAGUE_S

    def began(self, plate: Plate, on_s: float, t_s: float) -> bool:
        """Whether the cup has been filling for a while, as far as can be told at `t_s`; `on_s` is pump on."""
        if not self._seems(plate, on_s, t_s):
            return False
        if self._maybe_s is None or t_s - self._maybe_s > 1.5:
            self._maybe_s = t_s
        return t_s - self._maybe_s >= CONFIRM_S - 0.01

    def seems(self, plate: Plate, on_s: float, t_s: float) -> bool:
        """Whether coffee seems to come, told within a second and taken back where it does not go on: for the eye, no record."""
        if t_s - plate.shaken_s < SHAKEN_S or t_s - on_s < NOT_BEFORE_S:
            return False
        last = plate.since(t_s - 0.35)
        before = [g for t, g in plate.since(t_s - 2.6) if t < t_s - 0.6]
        if len(last) < 2 or len(before) < 4 or last[-1][1] < last[0][1]:
            return False
        level_g = sum(before) / len(before)
        shake_g = (sum((g - level_g) ** 2 for g in before) / len(before)) ** 0.5
        return sum(g for _, g in last) / len(last) - level_g > max(SEEMS_G, SEEMS_SPREADS * shake_g)

    def bend(self, plate: Plate, on_s: float, t_s: float) -> tuple[float, float] | None:
        """(when the curve bends up, ± seconds); None where that is vague, or told better before."""
        seen = _level_and_stream(plate, on_s, t_s)
        if seen is None:
            return None
        points, bend_s, within_s = seen
        hidden_s = max(u - t for (t, _), (u, _) in zip(points, points[1:]) if u > bend_s - 1 and t < bend_s + 1)
        within_s = hypot(within_s, hidden_s / 4, UNKNOWN_S)
        if within_s > self._within_s:
            return None
        self._within_s = within_s + MORE_SEEN_S
        return bend_s, within_s

    def _seems(self, plate: Plate, on_s: float, t_s: float) -> bool:
        if t_s - plate.shaken_s < QUIET_S:
            return False
        pace = stream.line(plate.since(t_s - 0.5), t_s)[1]
        if pace < 0.5 * stream.line(plate.since(t_s - 1.0), t_s)[1]:
            return False
        if _rises(plate, on_s, t_s, 3.0, 0.4, 1.5) or _rises(plate, on_s, t_s, 8.0, 0.6, 2.0):
            return True      # a stream; or the trickle of a choked puck, which takes its time to tell from drips
        # A hand that leans on the tray rises for a second too, but seldom at a stream's pace and time.
        return t_s - on_s > 3.0 and pace < 3 * self.usual_g_per_s and _rises(plate, on_s, t_s, 1.5, 0.35, 1.4)


def _level_and_stream(plate: Plate, on_s: float, t_s: float) -> tuple[stream.Points, float, float] | None:
    """(points that show a level and then a stream, bend, ± seconds); None for a stream older than what was seen."""
    # Since the last knock, else across it; a trickle needs a longer look.
    for from_s in (max(plate.shaken_s, t_s - SEEN_FOR_S), t_s - SEEN_FOR_S, t_s - KEPT_S):
        points = plate.since(from_s)
        if t_s - points[0][0] < 2.0:
            continue
        bend_s, within_s, left_g = stream.onset(points, on_s, t_s - 0.3)
        if bend_s - points[0][0] >= LEVEL_S:
            break
    else:
        return None
    near = plate.since(max(points[0][0], t_s - NEAR_S))
    if len(near) < len(points):
        # Where a shorter look fits far better, a drip or a hand had moved the level before the stream came.
        near_s, near_within_s, near_left_g = stream.onset(near, on_s, t_s - 0.3)
        if near_s - near[0][0] >= LEVEL_S and left_g > NEARER_FITS * near_left_g:
            return near, near_s, near_within_s
    return points, bend_s, within_s


def _rises(plate: Plate, on_s: float, t_s: float, for_s: float, third_g: float, whole_g: float) -> bool:
    """Whether each third of the last `for_s` lies `third_g` above the one before, and all well above before."""
    last = plate.since(max(t_s - for_s, on_s))
    if len(last) < 6 or last[-1][0] - last[0][0] < for_s - 0.25:
        return False
    before = [g for t, g in plate.since(t_s - for_s - 2.5) if t < t_s - for_s] or [0.0]
    level_g = sum(before) / len(before)
    shake_g = (sum((g - level_g) ** 2 for g in before) / len(before)) ** 0.5
    third = len(last) // 3
    a, b, c = (sum(g for _, g in part) / len(part) for part in (last[:third], last[third:-third], last[-third:]))
    return (min(b - a, c - b) > max(third_g, shake_g) and c - level_g > max(whole_g, 4 * shake_g)
            and stream.line(last[-third:], t_s)[1] > 0 and stream.rms(last) < 0.15 + shake_g + 0.08 * (c - a))
