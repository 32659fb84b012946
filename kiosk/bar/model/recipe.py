"""A recipe: what one coffee should give through one basket, and how far off is still right."""

from dataclasses import dataclass

from kiosk.bar.messages import Message

SINGLE, DOUBLE = "single", "double"
BASKETS = (SINGLE, DOUBLE)
DOSES_G = 3.0, 30.0     # less is no dose, more goes into no basket
BASKET_WORDS = {SINGLE: Message("single"), DOUBLE: Message("double")}
LIQUID_G_PER_ML = 1.0   # espresso under its crema: water at 65 °C and about a tenth of dissolved solids (from memory)
CREMA_G_PER_ML = 0.2    # mostly gas; common practice has no figure, so a bar calibrates (`grams_per_ml_from`)
CREMA_SHARE = 0.2       # middle of the 10–30 % of the cup that common practice gives


class Unfit(ValueError):
    """A setting that cannot be worked with; its message says what to change, in the user's words."""

    def __init__(self, message: Message):
        super().__init__(message)
        self.message = message


def grams_per_ml(crema_share: float = CREMA_SHARE) -> float:
    """Mass of one millilitre in the cup, crema included, where `crema_share` (0–1) of the volume is crema."""
    if not 0 <= crema_share <= 0.6:
        raise Unfit(Message("Crema is a share of the cup between 0 and 60 %. Measure it again on a still cup."))
    return (1 - crema_share) * LIQUID_G_PER_ML + crema_share * CREMA_G_PER_ML


def grams_per_ml_from(weighed_g: float, volume_ml: float) -> float:
    """The same, calibrated: pour one shot into a measuring glass, read millilitres with the crema, weigh it."""
    if weighed_g <= 0 or volume_ml <= 0 or not 0.4 <= weighed_g / volume_ml <= 1.1:
        raise Unfit(Message("A shot weighs between 0.4 and 1.1 g a millilitre. Tare the glass, pour and read both again."))
    return weighed_g / volume_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Targets and tolerances (± around the target) for coffee × basket.

    `amount` is the yield in `unit` ("g" or "ml"); `yield_g` is always grams, by `g_per_ml`. Times in seconds from
    pump on; `purge_s` is how long the group is flushed. Raises Unfit, with the sentence to show, where limits cross.
    """

    coffee: str
    basket: str
    dose_g: float
    amount: float
    unit: str = "ml"
    time_s: float = 25.0
    dose_within_g: float = 0.5
    amount_within: float = 3.0
    time_within_s: float = 5.0
    first_drop_from_s: float = 3.0
    first_drop_to_s: float = 5.0
    purge_s: float = 2.0
    g_per_ml: float = grams_per_ml()

    def __post_init__(self) -> None:
        def need(holds: bool, sentence: Message) -> None:
            if not holds:
                raise Unfit(Message("{coffee}, {basket}: {sentence}", coffee=self.coffee,
                                    basket=BASKET_WORDS.get(self.basket, self.basket), sentence=sentence))

        need(self.basket in BASKETS, Message("the basket is single or double. Choose one."))
        need(self.unit in ("g", "ml"), Message("the yield is in g or ml. Choose one."))
        need(DOSES_G[0] <= self.dose_g <= DOSES_G[1], Message("a dose is between 3 and 30 g. Set the dose again."))
        need(0.1 <= self.dose_within_g < self.dose_g / 2, Message("the dose tolerance is 0.1 g up to half the dose. Set it again."))
        need(5 <= self.amount <= 150, Message("a yield is between 5 and 150 {unit}. Set the yield again.", unit=self.unit))
        need(0.5 <= self.amount_within < self.amount / 2, Message("the yield tolerance is 0.5 up to half the yield. Set it again."))
        need(5 <= self.time_s <= 90, Message("a pull takes between 5 and 90 s. Set the time again."))
        need(0.5 <= self.time_within_s < self.time_s / 2, Message("the time tolerance is 0.5 s up to half the time. Set it again."))
        need(0 < self.first_drop_from_s < self.first_drop_to_s,
             Message("the first drop's window ends before it begins. Set the earlier time first, the later second."))
        need(self.first_drop_to_s < self.time_s - self.time_within_s,
             Message("the first drop would come after the pull is over. Set it earlier, or the time longer."))
        need(0.5 <= self.purge_s <= 15, Message("a purge runs 0.5 to 15 s. Set it again."))
        need(0.4 <= self.g_per_ml <= 1.1, Message("a millilitre in the cup weighs 0.4 to 1.1 g. Calibrate it again."))

    @property
    def _g_per_unit(self) -> float:
        return 1.0 if self.unit == "g" else self.g_per_ml

    @property
    def yield_g(self) -> float:
        return self.amount * self._g_per_unit

    @property
    def yield_within_g(self) -> float:
        return self.amount_within * self._g_per_unit

    @property
    def time_window_s(self) -> tuple[float, float]:
        return self.time_s - self.time_within_s, self.time_s + self.time_within_s

    @property
    def yield_window_g(self) -> tuple[float, float]:
        return self.yield_g - self.yield_within_g, self.yield_g + self.yield_within_g

    @property
    def dose_window_g(self) -> tuple[float, float]:
        return self.dose_g - self.dose_within_g, self.dose_g + self.dose_within_g

    def dose_fits(self, dose_g: float | None) -> bool | None:
        """Whether a dose in grams lies within its tolerance, limits included; None where it was not weighed."""
        return fits(dose_g, self.dose_window_g)

    def time_fits(self, time_s: float | None) -> bool | None:
        """Whether a time in seconds, pump on to pump off, lies in its window; None where it was not measured."""
        return fits(time_s, self.time_window_s)

    def yield_fits(self, yield_g: float | None) -> bool | None:
        """Whether a yield in grams lies in its window; None where it was not weighed."""
        return fits(yield_g, self.yield_window_g)

    def in_window(self, time_s: float | None, yield_g: float | None) -> bool | None:
        """The one rule: time and yield both fit. A pull that was not weighed is judged on its time alone; one that was
        not timed is not judged."""
        if time_s is None:
            return None
        return self.time_fits(time_s) is True and self.yield_fits(yield_g) is not False


EDGE = 1e-6     # 16.5 read as 16.500000000000028 is still the edge of the window, not outside it


def fits(value: float | None, window: tuple[float, float]) -> bool | None:
    """Whether a value lies in its window, ends included; None where it was not measured."""
    return None if value is None else window[0] - EDGE <= value <= window[1] + EDGE


def usual(coffee: str, basket: str) -> Recipe:
    """What a bar starts from: inside the Specialty Coffee Association's definition of espresso (2018 wording)."""
    if basket == SINGLE:
        return Recipe(coffee=coffee, basket=SINGLE, dose_g=8.0, amount=30.0, amount_within=3.0)
    return Recipe(coffee=coffee, basket=DOUBLE, dose_g=16.0, amount=60.0, amount_within=6.0)
