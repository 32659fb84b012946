"""Milk for a drink: whether it takes any that is steamed, what is in it, and the steps from the cold jug to the pour.

The order, 55–65 °C and hand-warm as the end of stretching are common practice; food rules are local.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from kiosk.bar.messages import Message
from kiosk.bar.model import Drink

STEAMED_FROM_C, STEAMED_TO_C = 55, 65
# A bar writes its menu itself, in a language that the kiosk speaks.
MILK = ("milk", "milch")
COLD = frozenset(("ice", "iced", "cold", "eis", "kalte", "kalter", "kaltes"))


@dataclass(frozen=True, slots=True, kw_only=True)
class MilkStep:
    """One thing to do with the milk. `picture` and `sign` (the caution's) are names of pictures."""

    what: str
    why: str
    picture: str
    caution: str = ""
    sign: str = ""


MILK_STEPS = (
    MilkStep(
        what=Message("Rinse the jug. Fill in cold milk to just below the spout."), picture="milk_jug",
        why=Message("Do it before you lock in. Steam while the shot pours; if that is too much at once, just before it. Cold "
                    "milk leaves time for the foam.")),
    MilkStep(
        what=Message("Purge the wand: steam into the tray for two seconds."), picture="milk_purge",
        why=Message("Water stands in the wand. It would thin the milk."),
        caution=Message("Steam burns at once. Keep hands and face away; touch only the wand's grip."), sign="caution_steam"),
    MilkStep(
        what=Message("Tip just under the surface. Steam on: it hisses and the milk grows."), picture="milk_stretch",
        why=Message("Air goes in only until the jug is hand-warm. More for a cappuccino, less for a latte."),
        caution=Message("The tip is in the milk before the steam is on. Else hot milk sprays."), sign="caution_steam"),
    MilkStep(
        what=Message("Then deeper, near the wall: the hiss ends and the milk spins."), picture="milk_spin",
        why=Message("Spinning makes one fine foam of the large bubbles."),
        caution=Message("The jug gets hot: one hand on the handle, the other only feels."), sign="caution_hot"),
    MilkStep(
        what=Message("Stop at {low}–{high} °C. No thermometer: once the jug is too hot to hold.", low=STEAMED_FROM_C, high=STEAMED_TO_C),
        why=Message("Hotter, it tastes boiled. Plant milks curdle sooner: nearer {low} °C.", low=STEAMED_FROM_C),
        picture="milk_stop", caution=Message("Steam off first, then take the jug away. Else hot milk sprays."),
        sign="caution_steam"),
    MilkStep(
        what=Message("Wipe the wand at once with its own damp cloth. Purge again."), picture="milk_wipe",
        why=Message("Milk dries on in seconds, and is drawn in as the wand cools. That cloth is for nothing else."),
        caution=Message("The wand burns: fold the cloth thick. Then steam: hands and face away."), sign="caution_steam"),
    MilkStep(
        what=Message("Swirl until it shines and pour at once."), picture="milk_pour",
        why=Message("Milk that stands parts into foam and liquid. Pour away what is left: never steam milk twice."),
        caution=Message("Hot milk and a hot jug. Hold both by the handle."), sign="caution_hot"),
)


def takes_milk(drink: Drink) -> bool:
    """Whether steamed milk goes into it, by what the menu says comes after the coffee or by the milk that is wanted."""
    said = f"{drink.name} {drink.cup} {drink.after}".lower().replace(",", " ").split()
    return (bool(drink.milk) or any(word in drink.after.lower() for word in MILK)) and COLD.isdisjoint(said)


def milk_allergens(drinks: Iterable[Drink]) -> tuple[str, ...]:
    """What the milk in these drinks contains of Annex II of (EU) 1169/2011, which lists milk, soya, oats among the cereals
    with gluten, and nuts. A milk of the bar's own contains what the bar has said of it."""
    each = (drink.allergen if drink.milk else Message("milk") for drink in drinks if takes_milk(drink))
    return tuple(dict.fromkeys(allergen for allergen in each if allergen))
