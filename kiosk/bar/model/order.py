"""An order: drinks asked for together, planned into pulls, fewest pulls first."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import DOUBLE, SINGLE, Unfit

WATER = Message("glass of water")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drink:
    """One line of the menu, or such a line as somebody wants it (`as_sold`). `shot` is the basket it is made with; `may_share`
    lets two singles come of one double; `cold` is a cup that is not to be warmed; `allergen` is said until it is served."""

    name: str
    shot: str = SINGLE
    cup: str = Message("espresso cup")
    beside: str = ""
    after: str = ""
    may_share: bool = True
    coffee: str = ""                    # "" is the first grinder's coffee
    cold: bool = False
    milk: str = ""                      # wanted in place of the usual one
    allergen: str = ""
    extra: bool = False                 # a shot more than the menu says

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise Unfit(Message("A drink needs a name. Type one."))
        if self.shot not in (SINGLE, DOUBLE):
            raise Unfit(Message("{name}: a drink is made of a single or a double. Choose one.", name=self.name))


# Cups and what goes beside: common practice. A bar edits all of it.
USUAL_MENU = (
    Drink(name=Message("Espresso"), beside=WATER),
    Drink(name=Message("Double espresso"), shot=DOUBLE, cup=Message("cappuccino cup"), beside=WATER),
    Drink(name=Message("Americano"), shot=DOUBLE, cup=Message("large cup"), after=Message("hot water")),
    Drink(name=Message("Cappuccino"), cup=Message("cappuccino cup"), after=Message("steamed milk and foam")),
    Drink(name=Message("Latte"), shot=DOUBLE, cup=Message("tall glass"), after=Message("steamed milk")),
    Drink(name=Message("Mocha"), shot=DOUBLE, cup=Message("tall glass"), after=Message("chocolate and steamed milk")),
    Drink(name=Message("Macchiato"), after=Message("a spot of milk foam")),
)


APART = ", "             # between a drink's name and what is changed of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What somebody wants otherwise: another cup ("" for the drink's own), `cold` where no cup is to be warmed, a milk, a
    coffee, or a shot more. `allergen` is what it contains of Annex II of (EU) 1169/2011; local rules may ask for more."""

    name: str
    cup: str = ""
    cold: bool = False
    milk: bool = False
    allergen: str = ""
    coffee: str = ""
    extra: bool = False

    def __post_init__(self) -> None:
        if not self.name.strip() or APART in self.name:
            raise Unfit(Message("A change needs a name without a comma. Type one."))


USUAL_CHANGES = (
    Change(name=Message("large"), cup=Message("large cup")),
    Change(name=Message("takeaway"), cup=Message("paper cup"), cold=True),
    Change(name=Message("extra shot"), extra=True),
    Change(name=Message("iced"), cup=Message("glass with ice"), cold=True),
    Change(name=Message("into a jug"), cup=Message("jug"), cold=True),
    Change(name=Message("oat milk"), milk=True, allergen=Message("oats")),
    Change(name=Message("soya milk"), milk=True, allergen=Message("soya")),
    Change(name=Message("nut milk"), milk=True, allergen=Message("nuts")),
)


def as_sold(drink: Drink, changes: Iterable[Change]) -> Drink:
    """The drink with these changes; its name says them, so that a name alone is enough to make it again. Of two milks or
    coffees the last one counts."""
    for change in changes:
        drink = replace(
            drink, name=f"{drink.name}{APART}{change.name}", cup=change.cup or drink.cup, cold=drink.cold or change.cold,
            milk=change.name if change.milk else drink.milk, allergen=change.allergen if change.milk else drink.allergen,
            coffee=change.coffee or drink.coffee, extra=drink.extra or change.extra)
    return drink


def named(name: str, menu: Iterable[Drink], changes: Iterable[Change]) -> Drink:
    """The drink of that name, changes included; one that has left the menu keeps its name."""
    known = {drink.name: drink for drink in menu}
    if name in known:
        return known[name]
    base = max((each for each in known if name.startswith(each + APART)), key=len, default=None)
    wanted = {change.name: change for change in changes}
    if base is None:
        return Drink(name=name)
    parts = name[len(base) + len(APART):].split(APART)
    made = as_sold(known[base], [wanted[part] for part in parts if part in wanted])
    return replace(made, name=name)


TASTING = Message("Tasting shot")   # what an order for nobody is called
UNORDERED = Message("Whose?")      # a pull that poured without an order


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPull:
    """One extraction to make: its basket and the drinks that come of it (two where a double is split)."""

    coffee: str
    basket: str
    drinks: tuple[Drink, ...]
    tasting: bool = False               # for nobody: the collar is set by its taste
    grinder: str = ""                   # the one whose collar that is; "" where any that holds the coffee will do

    @property
    def cups(self) -> int:
        return len(self.drinks)

    @property
    def split(self) -> bool:
        return self.cups == 2

    @property
    def more(self) -> bool:
        """Whether it is no drink of its own but the shot more of the double before it: into the same cup."""
        return self.basket == SINGLE and any(drink.extra for drink in self.drinks)

    @property
    def to_warm(self) -> bool:
        """Whether any of its cups is to be warmed."""
        return not self.drinks or any(not drink.cold for drink in self.drinks)

    @property
    def allergens(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(drink.allergen for drink in self.drinks if drink.allergen))

    @property
    def title(self) -> str:
        names = [drink.name for drink in self.drinks]
        if not names:
            return TASTING if self.tasting else UNORDERED
        return f"2 × {names[0]}" if self.split and names[0] == names[1] else " + ".join(names)


def plan(wanted: tuple[tuple[Drink, int], ...], house: str) -> tuple[PlannedPull, ...]:
    """The pulls that make these drinks: as few as the menu allows. `house` is the coffee of a drink that names none.

    A double is a pull of its own. Singles that may share are paired in a double basket; the odd one out, and any that
    may not share, take a single basket. A shot more makes a single a double, and gives a double a single beside it.
    """
    drinks = [drink for drink, count in wanted for _ in range(count)]
    pulls: list[PlannedPull] = []
    waiting: dict[str, int] = {}        # coffee → place in `pulls` of a single that still looks for a partner
    for drink in drinks:
        coffee = drink.coffee or house
        if drink.extra:
            pulls.append(PlannedPull(coffee=coffee, basket=DOUBLE, drinks=(drink,)))
            if drink.shot == DOUBLE:
                pulls.append(PlannedPull(coffee=coffee, basket=SINGLE, drinks=(replace(drink, shot=SINGLE, may_share=False),)))
            continue
        if drink.shot == SINGLE and drink.may_share and coffee in waiting:
            place = waiting.pop(coffee)
            pulls[place] = PlannedPull(coffee=coffee, basket=DOUBLE, drinks=(*pulls[place].drinks, drink))
            continue
        if drink.shot == SINGLE and drink.may_share:
            waiting[coffee] = len(pulls)
        pulls.append(PlannedPull(coffee=coffee, basket=drink.shot, drinks=(drink,)))
    return tuple(pulls)
