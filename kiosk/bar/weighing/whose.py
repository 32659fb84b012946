"""Two pumps ran and one cup stood on the scale: whose coffee it was, told by when its stream began and how it ended."""

SEEN_AFTER_S = 1.8          # by then a pump's stop has left its bend in the curve,
LIFTED_AFTER_S = 0.9        # and so much of it that a cup lifted then can still be told
LOOKED_FOR_S = 4.0          # later nothing new comes of a stop
APART_S = 0.5               # two stops nearer to each other than this tell nothing
SURELY = 4.6                # log of the odds: a hundred to one, and the coffee changes hands,
FOR_S = 0.4                 # once it has been so for so long: a knock, too, bends the curve for a moment
CLEARLY = 1.1               # three to one: nothing needs to be said; so few come near it that hardly one in a thousand is wrong
DROP_SAYS_AT_MOST = 5.0     # a first drop is late or early for many a reason


def stops_tell(own_off_s: float | None, other_off_s: float | None, now_s: float, lifted: bool) -> bool:
    """Whether the pumps' stops (None: still on) lie so far apart, and the first so long ago, that the curve tells them apart."""
    offs = [each for each in (own_off_s, other_off_s) if each is not None]
    if not offs or max(offs) - min(offs) < APART_S and len(offs) == 2:
        return False
    if lifted:
        return now_s - min(offs) >= LIFTED_AFTER_S
    return now_s - min(offs) >= SEEN_AFTER_S and now_s - max(offs) <= LOOKED_FOR_S


def odds_of_the_other(own_drop_off: float, other_drop_off: float, end: float | None) -> float:
    """Log of the odds that the coffee was the other pull's.

    `…_drop_off` is by how many of its own ± (19 times in 20) the first drop is off for each; `end` the log of the odds that
    the stream's end alone gives, None where it tells nothing.
    """
    drop = 2 * (own_drop_off ** 2 - other_drop_off ** 2)        # a ± is two spreads
    return max(-DROP_SAYS_AT_MOST, min(DROP_SAYS_AT_MOST, drop)) + (end or 0.0)
