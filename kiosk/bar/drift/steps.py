"""Where a run of numbers steps."""

from collections.abc import Sequence


def change_at(values: Sequence[float]) -> int:
    """How many of the values came before the likeliest step (least squares); 0 for a single one."""
    total, best, at, before = sum(values), -1.0, 0, 0.0
    for k in range(1, len(values)):
        before += values[k - 1]
        after = len(values) - k
        gain = (before / k - (total - before) / after) ** 2 * k * after
        if gain > best:
            best, at = gain, k
    return at
