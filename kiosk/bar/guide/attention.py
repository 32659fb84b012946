"""Which lane needs a hand next: what waits worst goes first."""

from collections.abc import Iterable

from kiosk.bar.guide.guide import EVERY_STEP, Guide, Step

STOP, SCORCHING, COOLING, HOT, WORKING, IDLE = 5, 4, 3, 2, 1, 0


def urgency(guide: Guide, cued: bool) -> int:
    """How soon a hand is needed: a pump to stop, a portafilter in a hot group, a cup that cools, then the rest.

    A pull that runs and has no cue yet needs no hand: 0.
    """
    if guide.pulling:
        return STOP if cued else IDLE
    if guide.waiting_locked_in or guide.step is Step.LOCK:
        return SCORCHING
    if guide.pump_off_at_s is not None:
        return COOLING
    return HOT if EVERY_STEP.index(guide.step) > EVERY_STEP.index(Step.DOSE) else WORKING


def next_lane(lanes: Iterable[tuple[int, Guide, bool]]) -> int | None:
    """The group to turn to, of (group, guide, whether its stop was cued); the one longest in its step where two are
    alike. None where no lane needs a hand."""
    needs = [(-urgency(guide, cued), guide.entered_at_s, group) for group, guide, cued in lanes]
    worst = min(needs, default=None)
    return worst[2] if worst is not None and worst[0] < 0 else None
