"""How exactly a measured value is written beside its window: to the tenth, or finer where the tenth would contradict the verdict.

19.96 s against 20–30 is too fast; "20.0 s (20–30)" would be no reason for saying so.
"""

from kiosk.bar.model.recipe import fits

USUAL, MOST = 1, 7      # decimals; at the most, what `fits` tells apart is told apart in writing too


class Exact(float):
    """A number that is written to its own count of `decimals`, whichever count a template asks for: where a template has
    tenths, the tenth is the usual and not the rule. With "g" closing zeros are left out, as for the ends of a window. In JSON it is
    a number like any other, whose decimals are forgotten: no record keeps a sentence with one.

    >>> f"{Exact(19.96, 2):.1f} s ({Exact(20.0, 2):g}–{Exact(30.04):g})"
    '19.96 s (20–30)'
    """

    __slots__ = ("decimals",)
    decimals: int

    def __new__(cls, value: float, decimals: int | None = None) -> "Exact":
        number = super().__new__(cls, value)
        number.decimals = getattr(value, "decimals", USUAL) if decimals is None else decimals
        return number

    def __format__(self, form: str) -> str:
        if not form or form[-1] not in "fg":
            return super().__format__(form)
        text = f"{float(self):{'+' if form.startswith('+') else ''}.{self.decimals}f}"
        return text.rstrip("0").rstrip(".") if form.endswith("g") and "." in text else text

    @property
    def written(self) -> float:
        """The number that is read of it."""
        return float(f"{self:f}")


def beside(value: float, window: tuple[float, float]) -> tuple[Exact, Exact, Exact]:
    """`value` and the ends of its window, each with as many decimals as it takes that what is read lies within, below or
    above as the value itself does (`fits`)."""
    for decimals in range(USUAL, MOST + 1):
        shown = Exact(value, decimals), Exact(window[0], decimals), Exact(window[1], decimals)
        if _side(*(each.written for each in shown)) == _side(value, *window):
            break
    return shown


def _side(value: float, low: float, high: float) -> int:
    return 0 if fits(value, (low, high)) else -1 if value < low else 1
