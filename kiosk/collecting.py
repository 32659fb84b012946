"""Python's search for waste, held back while the kiosk opens: what is made then stays, and to look through it again and again
took a tenth of the time."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def held_back() -> Iterator[None]:
    """Nothing is searched until the end of this, for what is only imported here."""
    hold_back()
    try:
        yield
    finally:
        go_on()


def hold_back() -> None:
    """Nothing is searched until `go_on`."""
    gc.disable()


def go_on() -> None:
    gc.enable()
