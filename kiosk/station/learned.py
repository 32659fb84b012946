"""What the scale has taught, kept between restarts: how coffee falls at each group, and what empty portafilters weigh."""

from dataclasses import asdict

from kiosk.bar.weighing import Habits, Poured, habits_from, learn, unlearn
from kiosk.book import Book

PORTAFILTERS, MOST_PORTAFILTERS = "portafilters", 8
PORTAFILTER_FROM_G = 350.0      # lighter, and it may be a cup
ALIKE_G = 1.0                   # two that weigh so nearly the same are one


class Learned:
    def __init__(self, book: Book):
        self._book = book

    def habits(self, group: int) -> Habits:
        try:
            return habits_from(self._book.memory(f"habits-{group}") or {"pulls": []})
        except ValueError:
            return Habits()             # learned anew from the next pulls

    def learn(self, group: int, taught: Poured) -> None:
        self._remember(group, learn(self.habits(group), taught))

    def unlearn(self, group: int, pull_id: str) -> None:
        """That pull goes on after all, and will teach when it ends."""
        self._remember(group, unlearn(self.habits(group), pull_id))

    def _remember(self, group: int, habits: Habits) -> None:
        self._book.remember(f"habits-{group}", asdict(habits))

    def portafilters(self) -> tuple[tuple[str, float], ...]:
        """Those that were set down empty before, (name, grams): by their weight, and nobody has to enter them."""
        return tuple((f"{grams:.0f} g", grams) for grams in self._empties())

    def set_down_empty(self, grams: float | None) -> None:
        """A portafilter rested empty at so many grams; None where none was seen."""
        known = self._empties()
        if grams is not None and grams >= PORTAFILTER_FROM_G and all(abs(grams - each) > ALIKE_G for each in known):
            self._book.remember(PORTAFILTERS, {"grams": [*known, round(grams, 1)][-MOST_PORTAFILTERS:]})

    def _empties(self) -> list[float]:
        kept = self._book.memory(PORTAFILTERS) or {}
        return [float(each) for each in kept.get("grams", ()) if isinstance(each, (int, float))]
