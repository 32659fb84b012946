"""What a watch says of a pull: its verdict, a flag with its evidence in words, a point on the chart."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from statistics import fmean
from typing import Any, NamedTuple

from kiosk.bar.drift.advice import WHOLE, Advice
from kiosk.bar.drift.diagnosis import DOSE, PULL, Fault
from kiosk.bar.drift.steps import change_at
from kiosk.bar.messages import Message, from_json, to_json

STEADY, BEGAN_OFF, DRIFTING, ODD, SPREAD, UNKNOWN = "steady", "began_off", "drifting", "odd", "spread", "unknown"
HANDS, LATE_STOPS = "hands", "late_stops"       # kinds of flag only: whose pulls changed, and what may be no change at all
FALSE_ALARM = 370           # pulls between false flags, on average, on a grinder that does not move: measured, not less


class ChartedPull(NamedTuple):
    """One pull on the chart: `value` leaves (`low`, `high`) exactly where the watch says that the grinder
    drifts or that its pulls spread.

    `value` is the signed evidence, log10(1 + Shiryaev-Roberts), positive where pulls run slower. The rest is in
    seconds off the recipe: this pull's adjusted time, and the level that the grinder is now thought to be at.
    """

    at: str
    value: float
    low: float
    high: float
    kind: str
    deviation_s: float | None
    level_s: float | None
    pull_id: str


@dataclass(frozen=True, slots=True)
class Flag:
    """What is wrong with a grinder, the way to turn it (None where turning is no cure), and what that rests on.

    `one_false_in` is the stated false-alarm rate: pulls between two false flags, on average, at the least.
    """

    grinder: str
    coffee: str
    setting: int
    kind: str
    direction: str | None
    sentence: str
    evidence: dict[str, Any]
    one_false_in: int = FALSE_ALARM

    def to_json(self) -> dict[str, Any]:
        return asdict(self) | {"sentence": to_json(self.sentence)}

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> "Flag":
        """The flag that `kept` was made of. Raises TypeError, KeyError or ValueError where it is not whole."""
        return cls(**kept | {"sentence": from_json(kept["sentence"])})


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a pull says. Times in seconds; `deviation_s` is adjusted time less the recipe's time.

    `value`, `low`, `high`: the chart (see Point). `level_s` ± `level_within_s`: where the grinder is now thought to be
    off the recipe, with 90 % probability. `kind`: steady, began_off, drifting, odd, spread or unknown. `flag` is set on
    the pull that raises it; `standing` for as long as it holds.
    """

    even_s: float | None
    deviation_s: float | None
    value: float
    low: float
    high: float
    kind: str
    flag: Flag | None
    standing: Flag | None
    advice: Advice
    faults: tuple[Fault, ...] = ()
    level_s: float | None = None
    level_within_s: float | None = None
    pulls: int = 0


def stands(grinder: str, setting: int) -> Message:
    """The grinder and where its collar stands, as a sentence begins with it."""
    return Message("{grinder} at {setting:d}", grinder=grinder, setting=setting)


def off_since_set(where: Message, level_s: float) -> Message:
    """The sentence for a grinder that began off its recipe by so many seconds, above zero where it is slow."""
    about = {"where": where, "level_s": abs(level_s), "side": Message("slow") if level_s > 0 else Message("fast")}
    return Message("{where} has run {level_s:.0f} s {side} since it was set.", **about) if abs(level_s) >= WHOLE else \
        Message("{where} has run {level_s:.1f} s {side} since it was set.", **about)


def drifted(where: Message, offs_s: Sequence[float]) -> tuple[Message, dict[str, Any]]:
    """The sentence and the figures for a grinder that drifted, from the last adjusted times off the recipe."""
    since = change_at(offs_s)
    after_s, before_s = fmean(offs_s[since:]), fmean(offs_s[:since]) if since else 0.0
    many = len(offs_s) - since
    figures = {"last_pulls": many, "before_pulls": since, "before_s": round(before_s, 2), "after_s": round(after_s, 2)}
    ran = _ran(where, figures)
    if not since:
        return Message("{where} has drifted: its {many} pulls ran {by_s:.1f} s {way} than the recipe.", **ran), figures
    if many == 1:
        return Message("{where} has drifted: the last pull ran {by_s:.1f} s {way} than the {since} before.", since=since, **ran), figures
    return Message("{where} has drifted: the last {many} pulls ran {by_s:.1f} s {way} than the {since} before.", since=since,
                   **ran), figures


def late_stops(where: Message, figures: dict[str, Any]) -> Message:
    """The question for a few taps that came far too late to be a grinder's doing."""
    return Message("{where}: the last {many} pulls were stopped {by_s:.0f} s later than those before. Were these stopped late?",
                   **_ran(where, figures))


def one_persons(where: Message, figures: dict[str, Any]) -> Message:
    """The sentence where one person's pulls changed and the others' did not; it names nobody."""
    return Message("{where}: the last {many} pulls of one person ran {by_s:.1f} s {way}, the others' did not. The tamp comes first.",
                   **_ran(where, figures))


def by_hand(where: Message, cause: str, figures: dict[str, Any]) -> Message:
    """The sentence for pulls that changed by somebody's hand, as far as can be told."""
    ran = _ran(where, figures)
    if cause == DOSE:
        return Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}, and the doses explain it. Leave the grinder.", **ran)
    if cause == PULL:
        return Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}; it looks like the pull itself. Leave the grinder.", **ran)
    return Message("{where}: the last {many} pulls ran {by_s:.1f} s {way}. Grinder or hands cannot be told yet: "
                   "let somebody else pull the next.", **ran)


def _ran(where: Message, figures: dict[str, Any]) -> dict[str, Any]:
    by_s = figures["after_s"] - figures["before_s"]
    return {"where": where, "many": figures["last_pulls"], "by_s": abs(by_s),
            "way": Message("slower") if by_s > 0 else Message("faster")}
