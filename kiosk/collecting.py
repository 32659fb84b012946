"""Python's search for waste, held back while the kiosk opens: what is made then stays, and to look through it again and again
took a tenth of the time."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def held_back() -> Iterator[None]:
    """Nothing is searched until the end of this."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
