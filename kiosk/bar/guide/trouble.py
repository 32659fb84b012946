"""A pull that goes wrong: what it is, as far as can be seen, what to do now, why, and the one change for the next.

Nothing here guesses at a grinder: what is off about a dose is known before the pump is on, so it comes first; then how
the puck was made; the collar only where the same comes again (the drift watch says when). Limits are common practice.
"""

from dataclasses import dataclass

from kiosk.bar.guide.guide import NOTHING_SHARE, Guide
from kiosk.bar.messages import Message, joined
from kiosk.bar.model import CHOKED, GUSHED, Step, beside, extreme

CHOKES, GUSHES, NO_CUP, SCORCHED, TOO_MUCH, TOO_LITTLE = "chokes", "gushes", "no cup", "scorched", "over", "under"
SCORCHES_S = 60.0           # loaded in a hot group so long, and the coffee is not worth pulling
VENT = Message("Pump off. Hear it vent, wait, face away, then ease it open. If it does not vent, leave it locked in, use no "
               "force, and call a technician.")
LESS, MORE = Message("Weigh the next dose: this one was {g:.1f} g over."), Message("Weigh the next dose: this one was {g:.1f} g under.")
LAST = Message("Lock in last, and start at once.")
EASIER = Message("Next: tamp as always. If that chokes too, grind one notch coarser.")
FIRMER = Message("Next: level, then tamp firm and straight. If that gushes too, grind one notch finer.")

# What hands say of a pull that no scale can see, as the reason that it was poured away, and the one change for the next.
AFTER = {"one spout": Message("One spout alone ran: clean both spouts, spread the grounds level, tamp straight."),
         "gushed": FIRMER, "choked": EASIER}


@dataclass(frozen=True, slots=True)
class Trouble:
    """`what` it is (one of the words above), what to do `now`, the one change for the `next` pull, whether it belongs
    in the sink, and whether there is pressure to beware of."""

    what: str
    now: Message
    then: Message
    bin: bool = False
    pressure: bool = False


def trouble(guide: Guide, t_s: float, cup_g: float | None = None, cup_seen: bool = True) -> Trouble | None:
    """What goes wrong at `t_s` (s). `cup_g`: what the scale shows in the cup, None where nothing is weighed;
    `cup_seen`: whether a cup was set on that scale."""
    if guide.ended:
        return None
    if guide.pulling and guide.pump_on_at_s is not None:
        return _pouring(guide, t_s - guide.pump_on_at_s, cup_g, cup_seen)
    if guide.pump_off_at_s is not None:
        return _poured(guide)
    if guide.step is Step.PULL and guide.locked_at_s is not None and t_s - guide.locked_at_s > SCORCHES_S:
        return Trouble(SCORCHED, Message("Locked in {s:.0f} s: the coffee is scorched. Knock it out and dose again.",
                                         s=t_s - guide.locked_at_s), LAST, bin=True)
    off_g = _off_g(guide)
    if guide.step in (Step.DOSE, Step.LEVEL, Step.TAMP) and off_g is not None and not guide.dose_fits and not guide.dose_kept:
        return _dosed(off_g)
    return None


def _off_g(guide: Guide) -> float | None:
    """Grams of the dose over the recipe's; None where it was not weighed."""
    return None if guide.dose_g is None else guide.dose_g - guide.recipe.dose_g


def _dosed(off_g: float) -> Trouble:
    if off_g > 0:
        return Trouble(TOO_MUCH, Message("{g:.1f} g too much: take it out before tamping.", g=off_g),
                       Message("Too much coffee chokes the pull."))
    return Trouble(TOO_LITTLE, Message("{g:.1f} g too little: add it before tamping.", g=-off_g),
                   Message("Too little coffee lets the water run through."))


def _pouring(guide: Guide, elapsed_s: float, cup_g: float | None, cup_seen: bool) -> Trouble | None:
    recipe = guide.recipe
    if cup_g is None:
        return None
    if cup_g >= recipe.yield_g * CHOKED and cup_g / max(elapsed_s, 1.0) >= GUSHED * recipe.yield_g / recipe.time_s:
        return Trouble(GUSHES, Message("Gushing: stop the pump."), _next(guide, FIRMER), bin=True)
    if cup_g < recipe.yield_g * NOTHING_SHARE and elapsed_s > recipe.time_window_s[1]:
        return Trouble(CHOKES, Message("Nothing flows: stop the pump."), _next(guide, EASIER), bin=True, pressure=True)
    if not cup_seen and guide.drop_at_s is None and elapsed_s > recipe.first_drop_to_s:
        return Trouble(NO_CUP, Message("No cup on the scale? Look under the spouts."), Message("Set the cup before the pump."))
    return None


def _poured(guide: Guide) -> Trouble | None:
    if guide.lock_to_pump_s is not None and guide.lock_to_pump_s > SCORCHES_S:
        return Trouble(SCORCHED, Message("It lay {s:.0f} s in the hot group: scorched. Pour it away.", s=guide.lock_to_pump_s), LAST, bin=True)
    far = extreme(guide.recipe, guide.time_s, guide.yield_g)
    if far == "choked":
        return Trouble(CHOKES, VENT, _next(guide, EASIER), bin=True, pressure=True)
    if far == "gushed":
        return Trouble(GUSHES, Message("Gushed: {g:.0f} g in {s:.0f} s. Pour it away.", g=guide.yield_g, s=guide.time_s),
                       _next(guide, FIRMER), bin=True)
    return None


def _next(guide: Guide, usual: Message) -> Message:
    """One cause, one change: a dose that was off explains a pull that is off the same way, and nothing else is turned."""
    off_g = _off_g(guide)
    if off_g is not None and guide.dose_fits is False:
        if off_g > 0 and usual is EASIER:
            return Message(LESS.template, g=off_g)
        if off_g < 0 and usual is FIRMER:
            return Message(MORE.template, g=-off_g)
    return usual


def seen_in_the_cup(guide: Guide) -> Message | None:
    """What time and yield come to together, with one thing to do; None where neither is known."""
    recipe, time_s, yield_g = guide.recipe, guide.time_s, guide.yield_g
    if time_s is None and yield_g is None:
        return None
    about: dict[str, float] = {}
    if time_s is not None:
        about |= zip(("s", "low", "high"), beside(time_s, recipe.time_window_s))
    if yield_g is not None:
        about |= zip(("g", "least", "most"), beside(yield_g, recipe.yield_window_g))
    if time_s is None:
        return _amount_alone(guide, about)
    fast, slow = time_s < recipe.time_window_s[0], time_s > recipe.time_window_s[1]
    if recipe.time_fits(time_s):
        fast = slow = False
    if yield_g is None:
        return joined(" ", [Message("{s:.1f} s is too fast ({low:g}–{high:g}).", **about), _cause(guide, True)]) if fast else \
            joined(" ", [Message("{s:.1f} s is too slow ({low:g}–{high:g}).", **about), _cause(guide, False)]) if slow else \
            joined(" ", [Message("{s:.1f} s is right ({low:g}–{high:g}).", **about), *_all_the_same(guide)])
    short, long = yield_g < recipe.yield_window_g[0], yield_g > recipe.yield_window_g[1]
    if recipe.yield_fits(yield_g):
        short = long = False
    if (fast and not short) or (long and not slow and yield_g / time_s > recipe.yield_g / recipe.time_window_s[0]):
        return joined(" ", [Message("It ran too fast: {g:.1f} g in {s:.1f} s ({least:g}–{most:g} g, {low:g}–{high:g} s).", **about),
                            _cause(guide, True)])
    if (slow and not long) or (short and not fast and yield_g / time_s < recipe.yield_g / recipe.time_window_s[1]):
        return joined(" ", [Message("It ran too slowly: {g:.1f} g in {s:.1f} s ({least:g}–{most:g} g, {low:g}–{high:g} s).", **about),
                            _cause(guide, False)])
    if slow or long:
        return Message("Stopped late: {g:.1f} g in {s:.1f} s ({least:g}–{most:g} g, {low:g}–{high:g} s). Stop as soon as the kiosk says so.", **about)
    if fast or short:
        return Message("Stopped early: {g:.1f} g in {s:.1f} s ({least:g}–{most:g} g, {low:g}–{high:g} s). Wait until the kiosk says stop.", **about)
    return joined(" ", [Message("{s:.1f} s and {g:.1f} g are right.", **about), *_all_the_same(guide)])


def _cause(guide: Guide, fast: bool) -> Message:
    """What to look at first. A dose that was weighed is no question: off the way that explains it, it is the cause; right, it
    is not."""
    off_g = _off_g(guide)
    if off_g is None:
        return Message("Was the dose right, the tamp firm and straight?") if fast else Message("Was the dose right, the tamp not too hard?")
    if guide.dose_fits is False and (off_g < 0) is fast:
        return Message(MORE.template, g=-off_g) if fast else Message(LESS.template, g=off_g)
    return Message("Level the next one, and tamp it firm and straight.") if fast else Message("Tamp the next one as always, no harder.")


def _all_the_same(guide: Guide) -> list[Message]:
    """A pull that is right in the cup may have been made wrong."""
    if guide.purged is False:
        return [Message("But the group was not purged: purge it before the next one.")]
    off_g = _off_g(guide)
    if off_g is not None and guide.dose_fits is False:
        return [Message(LESS.template, g=off_g) if off_g > 0 else Message(MORE.template, g=-off_g)]
    return []


def _amount_alone(guide: Guide, about: dict) -> Message:
    if guide.recipe.yield_fits(guide.yield_g):
        return Message("{g:.1f} g is right ({least:g}–{most:g}).", **about)
    return Message("{g:.1f} g is beside {least:g}–{most:g}. Time the next one too.", **about)
