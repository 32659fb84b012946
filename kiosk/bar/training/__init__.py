"""Practice lessons, a hire's progress, sign-off."""

from kiosk.bar.training.lesson import CAUSES, MENDS, Cause, Score, SeenPull, named, next_cause, score, why
from kiosk.bar.training.progress import (
    LOOKED_AT,
    PRACTICE,
    RIGHT_DOSES,
    SIGNED_OFF,
    STEADY_PULLS,
    Brief,
    Steadiness,
    Training,
    answers,
    brief,
    made,
    steadiness,
    training,
)

__all__ = [
    "CAUSES",
    "LOOKED_AT",
    "MENDS",
    "PRACTICE",
    "RIGHT_DOSES",
    "SIGNED_OFF",
    "STEADY_PULLS",
    "Brief",
    "Cause",
    "Score",
    "SeenPull",
    "Steadiness",
    "Training",
    "answers",
    "brief",
    "made",
    "named",
    "next_cause",
    "score",
    "steadiness",
    "training",
    "why",
]
