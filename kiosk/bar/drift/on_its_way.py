"""A pull that was ground before the collar was turned, and is made after it: it belongs to the run before."""

AT_MOST = 3         # pulls of the new setting, after which none of the old is on its way (two groups: common practice)


def on_its_way(setting: int, before: int | None, now: int | None, since: int) -> bool:
    """Whether a pull at `setting` was on its way when the collar was turned from `before` to `now`, `since` pulls of the new
    setting ago that tell of the grinder.

    >>> on_its_way(20, before=20, now=19, since=1), on_its_way(20, before=20, now=19, since=AT_MOST)
    (True, False)
    """
    return before is not None and setting == before != now and since < AT_MOST
