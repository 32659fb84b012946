"""Hands that never touch the glass: they dose, lock in, pump and lift, and the kiosk has to see it by itself."""

from dataclasses import dataclass

from hardware.practice import PracticeBar
from tests.support.at_work import AtWork

CUP_G = 94.0
PORTAFILTER_G = 512.0


@dataclass(frozen=True, slots=True)
class Truth:
    """What really happened: seconds of the clock, grams in the cup as it was lifted."""

    on_s: float
    off_s: float
    drop_s: float
    in_cup_g: float

    @property
    def time_s(self) -> float:
        return self.off_s - self.on_s


def pour(work: AtWork, *, run_s: float = 25.0, lifted_after_s: float = 4.0, cup_g: float = CUP_G, dose_g: float = 16.0,
         set_down_s: float | None = None, on=lambda: None, off=lambda: None, during=lambda _s: None,
         bar: PracticeBar | None = None) -> Truth:
    """One pull, from the cup set down (`set_down_s` after pump on, or 1.5 s before it) to the cup lifted."""
    bar = bar or work.bar
    bar.purge_group()
    bar.dose(dose_g)
    if set_down_s is None:
        work.scale.put_on(cup_g)
        work.frames(30)
    on_s = work.t_s
    poured = bar.begin_pull()
    on()
    while work.t_s - on_s < run_s:
        if set_down_s is not None and work.t_s - on_s >= set_down_s:
            work.scale.put_on(cup_g)
            set_down_s = None
        during(work.t_s - on_s)
        work.frame()
    off_s = work.t_s
    bar.stop_pump(off_s - on_s)
    off()
    work.frames(round(lifted_after_s / 0.05))
    in_cup_g = work.scale.load_g - cup_g
    work.scale.lift_all()
    work.frames(60)
    return Truth(on_s, off_s, on_s + poured.first_drop_s, in_cup_g)
