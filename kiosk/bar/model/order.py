"""An order: drinks asked for together, planned into pulls, fewest pulls first."""

from dataclasses import dataclass

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import DOUBLE, SINGLE, Unfit

WATER = "glass of water"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drink:
    """One line of the menu. `shot` is the basket it is made with; `may_share` lets two singles come of one double."""

    name: str
    shot: str = SINGLE
    cup: str = "espresso cup"
    beside: str = ""
    after: str = ""
    may_share: bool = True
    coffee: str = ""                    # "" is the first grinder's coffee

    def __post_init__(self):
        if not self.name.strip():
            raise Unfit("A drink needs a name. Type one.")
        if self.shot not in (SINGLE, DOUBLE):
            raise Unfit(f"{self.name}: a drink is made of a single or a double. Choose one.")


# Cups and what goes beside: common practice. A bar edits all of it.
USUAL_MENU = (
    Drink(name="Espresso", beside=WATER),
    Drink(name="Double espresso", shot=DOUBLE, cup="cappuccino cup", beside=WATER),
    Drink(name="Americano", shot=DOUBLE, cup="large cup", after="hot water"),
    Drink(name="Cappuccino", cup="cappuccino cup", after="steamed milk and foam"),
    Drink(name="Latte", shot=DOUBLE, cup="tall glass", after="steamed milk"),
    Drink(name="Mocha", shot=DOUBLE, cup="tall glass", after="chocolate and steamed milk"),
    Drink(name="Macchiato", after="a spot of milk foam"),
)


UNORDERED = Message("Whose?")      # a pull that poured without an order


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPull:
    """One extraction to make: its basket and the drinks that come of it (two where a double is split)."""

    coffee: str
    basket: str
    drinks: tuple[Drink, ...]

    @property
    def cups(self) -> int:
        return len(self.drinks)

    @property
    def split(self) -> bool:
        return self.cups == 2

    @property
    def title(self) -> str:
        names = [drink.name for drink in self.drinks]
        if not names:
            return UNORDERED
        return f"2 × {names[0]}" if self.split and names[0] == names[1] else " + ".join(names)


def plan(wanted: tuple[tuple[Drink, int], ...], house: str) -> tuple[PlannedPull, ...]:
    """The pulls that make these drinks: as few as the menu allows. `house` is the coffee of a drink that names none.

    A double is a pull of its own. Singles that may share are paired in a double basket; the odd one out, and any that
    may not share, take a single basket.
    """
    drinks = [drink for drink, count in wanted for _ in range(count)]
    pulls: list[PlannedPull] = []
    waiting: dict[str, int] = {}        # coffee → place in `pulls` of a single that still looks for a partner
    for drink in drinks:
        coffee = drink.coffee or house
        if drink.shot == SINGLE and drink.may_share and coffee in waiting:
            place = waiting.pop(coffee)
            pulls[place] = PlannedPull(coffee=coffee, basket=DOUBLE, drinks=(*pulls[place].drinks, drink))
            continue
        if drink.shot == SINGLE and drink.may_share:
            waiting[coffee] = len(pulls)
        pulls.append(PlannedPull(coffee=coffee, basket=drink.shot, drinks=(drink,)))
    return tuple(pulls)
