"""Whose fault: grind, dose, tamp, or the pull itself, ranked, with the evidence in words."""

from dataclasses import dataclass

GRIND, DOSE, TAMP, PULL = "grind", "dose", "tamp", "pull"


@dataclass(frozen=True, slots=True)
class Fault:
    """One cause, its probability (0–1), and what speaks for it, in the user's words."""

    cause: str
    probability: float
    evidence: tuple[str, ...] = ()
