"""What waste costs: grams by kind, and money where the price of a kilogram is known."""

from dataclasses import dataclass

from kiosk.bar.evening.figures import OVERDOSE, PURGE, SINK, TASTED, Figures
from kiosk.bar.evening.weeks import Weeks
from kiosk.bar.messages import Message

NAMES = {PURGE: Message("Purges"), SINK: Message("Sink shots"), OVERDOSE: Message("Over the dose's limit"),
         TASTED: Message("Tasted at opening")}
IN_ALL = Message("Lost in all")


@dataclass(frozen=True, slots=True)
class Cost:
    """Coffee lost in one way: grams, money (None where no price is set), the records it was added up from."""

    why: str
    name: Message
    grams: float
    money: float | None
    record_ids: tuple[str, ...]
    assumed: int = 0            # of them, doses that nobody weighed: the recipe's was taken


def costs(figures: Figures, price_per_kg: float | None) -> tuple[Cost, ...]:
    """One a kind that happened, their sum, and one a coffee where several were lost; none where nothing was."""
    found: list[Cost] = []
    for why, name in NAMES.items():
        waste = [each for each in figures.waste if each.why == why]
        if waste:
            grams = sum(each.grams for each in waste)
            found.append(Cost(why, name, grams, worth(grams, price_per_kg), tuple(each.record_id for each in waste),
                              sum(each.assumed for each in waste)))
    lost = [each for each in found if each.why != TASTED]
    if lost:
        grams = sum(each.grams for each in lost)
        found.append(Cost("all", IN_ALL, grams, worth(grams, price_per_kg),
                          tuple(id for each in lost for id in each.record_ids), sum(each.assumed for each in lost)))
    return (*found, *_by_coffee(figures, price_per_kg))


def costs_of_weeks(of: Weeks, price_per_kg: float | None) -> tuple[Cost, ...]:
    """The same over weeks that were summed by the day: no record is named."""
    grams = {PURGE: sum(week.purged_g for week in of.weeks), SINK: sum(week.sunk_g for week in of.weeks),
             OVERDOSE: sum(week.overdosed_g for week in of.weeks), TASTED: sum(week.tasted_g for week in of.weeks)}
    found = [Cost(why, NAMES[why], each, worth(each, price_per_kg), ()) for why, each in grams.items() if each]
    lost_g = sum(each.grams for each in found if each.why != TASTED)
    if lost_g:
        found.append(Cost("all", IN_ALL, lost_g, worth(lost_g, price_per_kg), ()))
    by_coffee: dict[str, float] = {}
    for each in of.grinders:
        by_coffee[each.coffee] = by_coffee.get(each.coffee, 0.0) + each.lost_g
    by_coffee = {coffee: each for coffee, each in sorted(by_coffee.items()) if each}
    if len(by_coffee) > 1:
        found += [Cost(f"coffee_{coffee}", Message("Lost of {coffee}", coffee=coffee), each, worth(each, price_per_kg), ())
                  for coffee, each in by_coffee.items()]
    return tuple(found)


def _by_coffee(figures: Figures, price_per_kg: float | None) -> list[Cost]:
    """What each coffee's part of the sum is; none where it is all of one."""
    lost = [each for each in figures.waste if each.why != TASTED]
    coffees = sorted({each.coffee for each in lost})
    if len(coffees) < 2:
        return []
    found = []
    for coffee in coffees:
        own = [each for each in lost if each.coffee == coffee]
        grams = sum(each.grams for each in own)
        found.append(Cost(f"coffee_{coffee}", Message("Lost of {coffee}", coffee=coffee), grams,
                          worth(grams, price_per_kg), tuple(each.record_id for each in own)))
    return found


def worth(grams: float, price_per_kg: float | None) -> float | None:
    return grams / 1000 * price_per_kg if price_per_kg else None
