"""The steps of a pull, in their order."""

from enum import StrEnum


class Step(StrEnum):
    WARM = "warm"
    KNOCK = "knock"
    DOSE = "dose"
    LEVEL = "level"
    TAMP = "tamp"
    RIM = "rim"
    PURGE = "purge"
    LOCK = "lock"
    PULL = "pull"
    JUDGE = "judge"
    SERVE = "serve"


EVERY_STEP = tuple(Step)
FIVE = (Step.WARM, Step.DOSE, Step.TAMP, Step.PURGE, Step.PULL)
BRISK = (*FIVE, Step.SERVE)
