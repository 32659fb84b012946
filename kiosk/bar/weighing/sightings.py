"""What the scale sends, and what the watches make of it: a sample in, sightings out.

A watch (`portafilter.DoseWatch`, `pour.PourWatch`) is fed with `observe(sample)` and answers with a tuple of sightings,
mostly empty. Every time is seconds on the one monotonic clock that stamped the samples; a watch never reads a clock.
A sighting's `t_s` is when it happened, which is often a little before the sample that gave it away.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading of the scale; `stable` is the scale's own word for it, None where it has none. `resolution_g` is what its
    last digit is worth."""

    t_s: float
    grams: float
    stable: bool | None = None
    resolution_g: float | None = None


@dataclass(frozen=True, slots=True)
class PortafilterSet:
    """An empty portafilter rests on the scale and is tared: `portafilter` names it, None where it is not known."""

    t_s: float
    grams: float
    portafilter: str | None = None


@dataclass(frozen=True, slots=True)
class DoseRead:
    """A dose came to rest at a value that was not told before."""

    t_s: float
    dose_g: float
    portafilter: str | None = None


@dataclass(frozen=True, slots=True)
class DoseUnclear:
    """A load rests that two or more portafilters could explain: tare by hand, or show the empty first."""

    t_s: float
    portafilters: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CupSet:
    """A cup (or one more cup) was set down and tared; `grams` is its weight."""

    t_s: float
    grams: float


@dataclass(frozen=True, slots=True)
class FirstDrop:
    """The stream began, the scale's learned delay taken off; the truth lies within ± `plus_minus_s` 19 times in 20.

    Comes twice, at once and a second later with more of the stream to tell it from; the last one counts.
    """

    t_s: float
    plus_minus_s: float


@dataclass(frozen=True, slots=True)
class StopNow:
    """Stop the pump at once and the settled yield should be `expected_g`."""

    t_s: float
    expected_g: float


@dataclass(frozen=True, slots=True)
class FlowEnded:
    """The pump went off, read from the curve alone because nobody tapped."""

    t_s: float
    plus_minus_s: float


@dataclass(frozen=True, slots=True)
class Settled:
    """The cup holds what it will hold. Comes again where later drips change it; the last one counts."""

    t_s: float
    yield_g: float


@dataclass(frozen=True, slots=True)
class CupLifted:
    """The cup (or one of the cups) left the scale."""

    t_s: float


@dataclass(frozen=True, slots=True)
class CupGone:
    """The cup was taken from under a stream at `t_s` and did not come back."""

    t_s: float


@dataclass(frozen=True, slots=True)
class YieldLost:
    """The yield of this pull will not be known; `why` is a sentence for the screen. Timing goes on."""

    t_s: float
    why: str


Sighting = (PortafilterSet | DoseRead | DoseUnclear | CupSet | FirstDrop | StopNow | FlowEnded | Settled | CupLifted
            | CupGone | YieldLost)
