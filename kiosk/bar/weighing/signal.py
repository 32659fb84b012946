"""A group's own signal, made sense of: a pull, a purge, a backflush, or a contact that sticks."""

from dataclasses import dataclass

PURGE_WITHIN_S = 8.0        # a run so short, with nothing weighed, was a purge
ROW, ROW_S = 3, 60.0        # so many short ones so near each other are a backflush, and no purge
AGAIN_S = 0.4               # on again so soon after off: the contact let go for a moment, the pump ran on
STUCK_S = 180.0             # no pull runs so long
WITHIN_S = 0.1              # ± of an edge: debouncing, and the adapter's own polling


@dataclass(frozen=True, slots=True)
class PumpRan:
    """What a run of the pump has come to: `what` is "on" (a pull has begun), "off" (it ended), "again" (it had not), "purge"
    or "stuck"."""

    what: str
    at_s: float


class GroupSignal:
    """One group's edges in, what they mean out. `ready` tells whether a pull may begin (locked in, or coffee seen);
    `weighed` whether coffee was seen to fall since the pump went on."""

    def __init__(self) -> None:
        self.on_since_s: float | None = None
        self._told_on = self._told_stuck = False
        self._short: list[float] = []
        self._ended: tuple[float, float, bool] | None = None       # the last run: from, to, whether it was a pull

    @property
    def running(self) -> bool:
        return self.on_since_s is not None

    def pours(self) -> tuple[PumpRan, ...]:
        """Coffee was seen to fall of this run: it is a pull, whatever it was thought to be before."""
        self._told_on = self.running
        return (PumpRan("on", self.on_since_s),) if self.on_since_s is not None else ()

    def edge(self, t_s: float, on: bool, *, ready: bool, weighed: bool) -> tuple[PumpRan, ...]:
        if on:
            if self.on_since_s is None and self._ended is not None and t_s - self._ended[1] <= AGAIN_S:
                self.on_since_s, ended_s, self._told_on = self._ended
                self._short = [each for each in self._short if each != ended_s]
                return (PumpRan("again", t_s),) if self._told_on else self.at(t_s, ready=ready, weighed=weighed)
            if self.on_since_s is None:
                self.on_since_s, self._told_on, self._told_stuck = t_s, False, False
            return self.at(t_s, ready=ready, weighed=weighed)
        began_s, self.on_since_s = self.on_since_s, None
        if began_s is None:
            return ()
        self._ended = began_s, t_s, self._told_on or t_s - began_s >= PURGE_WITHIN_S or weighed
        if t_s - began_s >= PURGE_WITHIN_S or weighed:
            return (*(() if self._told_on else (PumpRan("on", began_s),)), PumpRan("off", t_s))
        self._short = [each for each in self._short if t_s - each <= ROW_S] + [t_s]
        if len(self._short) >= ROW and not self._told_on:
            return ()
        return (PumpRan("purge", t_s),)

    def at(self, t_s: float, *, ready: bool, weighed: bool) -> tuple[PumpRan, ...]:
        """The clock stands at `t_s` and nothing has changed."""
        if self.on_since_s is None:
            return ()
        if not self._told_on and (ready or weighed or t_s - self.on_since_s >= PURGE_WITHIN_S):
            self._told_on = True
            return (PumpRan("on", self.on_since_s),)
        if not self._told_stuck and t_s - self.on_since_s > STUCK_S:
            self._told_stuck = True
            return (PumpRan("stuck", t_s),)
        return ()
