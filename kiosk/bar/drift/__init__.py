"""Adjusted time, change detector, grinder model, verdict, diagnosis and advice."""

from kiosk.bar.drift.adjusted_time import DOSE_POWER, Effects, adjusted, adjusted_time_s
from kiosk.bar.drift.advice import COARSER, FINER, HOLD, NOTCH, TECHNIQUE, Standing, advise
from kiosk.bar.drift.change_detector import ChangeDetector
from kiosk.bar.drift.diagnosis import (
    CHANCE,
    DOSE,
    GRIND,
    PULL,
    TAMP,
    Clue,
    Fault,
    Usual,
    diagnose,
    first_drop_share,
    quickening,
    slips,
)
from kiosk.bar.drift.dosing import TENTH_S, Dosing, Timed
from kiosk.bar.drift.on_its_way import on_its_way
from kiosk.bar.drift.verdict import HANDS, LATE_STOPS, drifted, off_since_set, stands
from kiosk.bar.drift.watch import BEGAN_OFF, DRIFTING, ODD, SPREAD, STEADY, UNKNOWN, Flag, Verdict, Watch, counts

__all__ = [
    "BEGAN_OFF",
    "CHANCE",
    "COARSER",
    "DOSE",
    "DOSE_POWER",
    "DRIFTING",
    "FINER",
    "GRIND",
    "HANDS",
    "HOLD",
    "LATE_STOPS",
    "NOTCH",
    "ODD",
    "PULL",
    "SPREAD",
    "STEADY",
    "TAMP",
    "TECHNIQUE",
    "TENTH_S",
    "UNKNOWN",
    "ChangeDetector",
    "Clue",
    "Dosing",
    "Effects",
    "Fault",
    "Flag",
    "Standing",
    "Timed",
    "Usual",
    "Verdict",
    "Watch",
    "adjusted",
    "adjusted_time_s",
    "advise",
    "counts",
    "diagnose",
    "drifted",
    "first_drop_share",
    "off_since_set",
    "on_its_way",
    "quickening",
    "slips",
    "stands",
]
