"""A list that is longer than its place: which part of it is shown, and what comes when it is turned."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Paging:
    """Of `count` things `room` are shown, from `first` on (0 is the first of all).

    >>> paging = Paging().over(7, 3)
    >>> paging.of("abcdefg"), paging.turned().turned().of("abcdefg"), paging.turned().turned().turned().first
    ('abc', 'g', 0)
    >>> paging.turned().turned().blank, paging.turned().page, paging.pages
    (2, 2, 3)
    >>> paging.with_(4).of("abcdefg")
    'def'
    """

    first: int = 0
    room: int = 1
    count: int = 0

    def over(self, count: int, room: int) -> "Paging":
        """The same place in what the list and its place are now; the beginning where it has become too short."""
        return Paging(self.first if self.first < count else 0, room, count)

    def of(self, things: Sequence[Thing]) -> Sequence[Thing]:
        """Those that are shown."""
        return things[self.first:self.first + self.room]

    def with_(self, place: int) -> "Paging":
        """Those among which number `place` is (0 is the first of all)."""
        return replace(self, first=place // self.room * self.room)

    def turned(self) -> "Paging":
        """The next ones; after the last the first again."""
        after = self.first + self.room
        return replace(self, first=after if after < self.count else 0)

    @property
    def blank(self) -> int:
        """How many places nothing is left for."""
        return self.room - max(0, min(self.room, self.count - self.first))

    @property
    def page(self) -> int:
        return self.first // self.room + 1

    @property
    def pages(self) -> int:
        return max(1, -(-self.count // self.room))
