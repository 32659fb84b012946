"""Which picture the new hire sees: the step's own, the drink's own cup, or what goes wrong."""

from kiosk.bar.guide import CHOKES, GUSHES, NO_CUP, SCORCHED, TOO_LITTLE, TOO_MUCH
from kiosk.bar.model import Drink, Step
from kiosk.bar.training import takes_milk

# A bar writes its menu itself, in a language that the kiosk speaks.
PAPER, TALL, LARGE, WIDE = ("paper", "papp", "takeaway", "to go"), ("glass", "glas"), ("large", "groß", "mug"), ("cappuccino",)
WRONG = {CHOKES: "chokes", GUSHES: "gushes", SCORCHED: "knock", TOO_MUCH: "dose",
         TOO_LITTLE: "dose", NO_CUP: "no_cup"}


def of_step(step: Step, drinks: tuple[Drink, ...], wrong: str | None = None, stopped: bool = False) -> tuple[str, str]:
    """The picture, and a second one beside it, "" for none. `wrong` is what goes wrong (a word of `trouble`), `stopped` whether
    the pump has been."""
    if wrong == CHOKES and stopped:
        return "vents", ""
    if wrong is not None:
        return WRONG.get(wrong, str(step)), ""
    if step is Step.PULL and len(drinks) == 2:
        return "pull_two", ""
    if step is Step.SERVE:
        own = [cup(drink) for drink in drinks]
        return (own[0], own[1] if len(own) == 2 else "") if own else (str(step), "")
    return str(step), ""


def cup(drink: Drink) -> str:
    """The picture of a drink in its own cup."""
    said = drink.cup.lower()
    if any(word in said for word in PAPER):
        return "cup_takeaway"
    if takes_milk(drink):
        return "cup_latte_glass" if any(word in said for word in TALL) else "cup_cappuccino"
    if any(word in said for word in LARGE):
        return "cup_americano"
    return "serve_wide" if any(word in said for word in WIDE) else "serve" if drink.beside else "cup_espresso"
