"""Work beside the drawing thread: every thread of the application but a port's own and the book's begins here, and ends here."""

import logging
from collections.abc import Callable
from threading import Thread

log = logging.getLogger(__name__)


class Aside:
    """`begin` starts a piece of work and `close` waits for what still runs. Whatever goes wrong in one, whatever a record
    holds that nobody thought of, is logged and told to who asked for it: nobody waits for it, and the next one is served."""

    def __init__(self) -> None:
        self._running: list[Thread] = []

    def begin(self, name: str, work: Callable[[], None], failed: Callable[[], None] = lambda: None) -> Thread:
        """`failed` is called on that thread, too."""
        def run() -> None:
            try:
                work()
            except Exception:
                log.exception("%s", name)
                failed()

        thread = Thread(target=run, name=name, daemon=True)
        self._running = [*filter(Thread.is_alive, self._running), thread]
        thread.start()
        return thread

    def close(self, wait_s: float = 5.0) -> None:
        """A disk that hangs is waited for so long, for each piece of work."""
        for thread in self._running:
            thread.join(wait_s)
        self._running = []
