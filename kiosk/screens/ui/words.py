"""The words on the screens. What the new hire reads of each step: what to do, why, and the caution."""

from typing import NamedTuple

from kiosk.bar.messages import ENGLISH, Language
from kiosk.bar.model import APART, FIRST, Exact, Judgement, Step, beside

_language: Language = ENGLISH


def _(text: str | None) -> str:
    """`text` in the language spoken now: one of the screens, or a Message of the bar."""
    return _language.render(text) if text else ""


def number(value: float, form: str) -> str:
    """`value` as the language spoken now writes it: `form` is as in `format`, ".1f" say."""
    return _language.number(value, form)


def window(low: float, high: float) -> str:
    """From which number to which: to the tenth, or as exactly as `beside` has it for what is held against it."""
    return f"{number(Exact(low), 'g')}–{number(Exact(high), 'g')}"


def amount(value: float, form: str, unit: str) -> str:
    return f"{number(value, form)} {unit}"


def spoken() -> Language:
    return _language


def speak(language: Language) -> None:
    """Say everything from now on in this language."""
    global _language
    _language = language


def N_(text: str) -> str:
    """Marks a text for the catalogue where it is written; `_` translates it where it is shown."""
    return text


def drink_words(name: str) -> str:
    """A drink with what is changed of it, or a pull's title ("2 × …", "… + …"), in the language spoken now."""
    def one(part: str) -> str:
        twice = "2 × " if part.startswith("2 × ") else ""
        return twice + APART.join(_(each) for each in part.removeprefix("2 × ").split(APART))

    return " + ".join(one(part) for part in name.split(" + "))


class StepWords(NamedTuple):
    short: str          # in the row of steps
    done: str           # on the key that ends it
    what: str
    why: str
    caution: str = ""
    sign: str = ""      # the caution's picture


STEP_WORDS = {
    Step.WARM: StepWords(
        N_("Warm"), N_("Cup is warm"), N_("Fill the cup with hot water. It stays in until you lock in."),
        N_("A cold cup cools the coffee and the crema falls."),
        N_("Hot water and hot cups burn. Hold the cup by its handle."), "caution_hot"),
    Step.KNOCK: StepWords(
        N_("Knock out"), N_("Clean and dry"),
        N_("Knock out the old puck. Wipe the basket dry. Look: the spouts are clean."),
        N_("Water or old grounds let the new water run past the coffee. A cloth for the basket, one for the wand, one for the bench."),
        N_("The basket and the old puck are hot. Hold the handle, knock on the bar only."), "caution_hot"),
    Step.DOSE: StepWords(
        N_("Dose"), N_("Dosed"), N_("Grind only what this pull needs. Weigh it."),
        N_("One or two grams more or less change the taste. Ground coffee goes stale in minutes."),
        N_("Never reach into the burrs. Unplug the grinder before you clear it."), "caution_burrs"),
    Step.LEVEL: StepWords(
        N_("Level"), N_("Levelled"), N_("Level the coffee with a finger. Fill the gaps, do not press."),
        N_("Water takes the easy way. Flat coffee has no easy way.")),
    Step.TAMP: StepWords(
        N_("Tamp"), N_("Tamped"), N_("On the mat: light, then firm, then turn to polish. Keep it straight."),
        N_("A soft or crooked tamp lets the water run through one side."),
        N_("Keep your wrist straight. Lean, do not bend it."), ""),
    Step.RIM: StepWords(
        N_("Rim"), N_("Rim is clean"), N_("Wipe the grounds off the rim."),
        N_("Grounds on the rim burn in the group and the seal leaks.")),
    Step.PURGE: StepWords(
        N_("Purge"), N_("Purged"), N_("Let water run from the empty group for {seconds} seconds."),
        N_("It washes the screen and brings the water to the right heat."),
        N_("The water is near boiling and may spit. Keep hands and face away."), "caution_steam"),
    Step.LOCK: StepWords(
        N_("Lock in"), N_("Locked in"), N_("Empty and dry the cup. Put the portafilter in, turn until firm, the cup under it."),
        N_("In the hot group the dry coffee scorches. Start at once."),
        N_("Group and water are hot. Touch only the handles."), "caution_hot"),
    Step.PULL: StepWords(
        N_("Pull"), N_("Pump on"), N_("Start the pump and tap. Watch the stream. Stop when the kiosk says so."),
        N_("First drop after {first} s, done near {time} s. Later it tastes thin and bitter."),
        N_("Hot coffee under pressure: never turn the portafilter loose while the pump runs."), "caution_hot"),
    Step.JUDGE: StepWords(
        N_("Judge"), N_("Judged"), N_("Look at the time, the weight and the crema."),
        N_("The next pull is only as good as what you see in this one.")),
    Step.SERVE: StepWords(
        N_("Serve"), N_("Served"), N_("Serve at once, each in its cup."),
        N_("The crema lasts two minutes."),
        N_("The cup is hot: carry it on its saucer."), "caution_hot"),
}

# Where the step's own words are not enough.
WARM_TWO = N_("Fill both cups with hot water. It stays in until you lock in.")
LOCK_TWO = N_("Empty and dry both cups. Put the portafilter in, turn until firm, a cup under each spout.")
LOCK_COLD = N_("Put the portafilter in and turn until firm. Put the cup under it.")
DOSE_WEIGHED = N_("Set the empty portafilter on the scale. Grind only what this pull needs.")
PULL_RUNS = N_("Watch the stream. Stop when the kiosk says so.")

BIN_REASONS = (N_("Gushed"), N_("Choked"), N_("Spilt"), N_("Wrong drink"), N_("Tastes off"), N_("One spout"))

FINDINGS = FIRST | {"over": N_("Too much coffee"), "under": N_("Too little coffee"), "in window": N_("In window")}


def judged(said: Judgement) -> str:
    """What the last pull came to, in one line."""
    told = [_("{what}: {value:.1f} {unit} ({low:g}–{high:g})").format(
        what=_(FINDINGS[found.word]), value=value, unit=found.unit, low=low, high=high)
        for found in said.findings if found.word in FINDINGS
        for value, low, high in [beside(found.value, (found.low, found.high))]]
    told += [_("not weighed")] if told and said.unweighed else []
    return ", ".join(told) or _("Not judged")
