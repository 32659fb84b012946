"""What a hire was shown, when and by whom, and what their coffee came to: one page to print and to sign."""

from html import escape

from kiosk.bar.messages import ENGLISH, Language, Message, joined
from kiosk.bar.model import Step, service_day
from kiosk.bar.training import CAUSES, LessonDone, Training
from kiosk.page.sheet import PageSheet

STEPS = {
    Step.WARM: Message("Warm"), Step.KNOCK: Message("Knock out"), Step.DOSE: Message("Dose"), Step.LEVEL: Message("Level"),
    Step.TAMP: Message("Tamp"), Step.RIM: Message("Rim"), Step.PURGE: Message("Purge"), Step.LOCK: Message("Lock in"),
    Step.PULL: Message("Pull"), Step.JUDGE: Message("Judge"), Step.SERVE: Message("Serve"),
}


def _how(done: LessonDone) -> Message:
    """What made it easier or harder."""
    told = Message("a score at the end") if done.blind else Message("told after each pull")
    return joined("; ", [told, Message("by eye, {n:d} of them could only be guessed", n=done.by_eye)]) if done.by_eye else told


def certificate(of: Training, day: str, bar: str = "", language: Language = ENGLISH) -> str:
    """One HTML document for `of`, written on `day`. It says what was kept and nothing more."""
    sheet = PageSheet(language)
    signed = Message("Signed off by {trainer} on {day}.", trainer=of.signed.by, day=service_day(of.signed.at)) if of.signed else \
        Message("Not signed off yet.")
    seen = {str(note.facts["step"]): note for note in of.shown}
    steps = [("", [sheet.head(name), f"<td>{escape(service_day(note.at)) if (note := seen.get(str(step))) else '–'}</td>",
                   f"<td>{escape(note.by or '') if note else '–'}</td>"]) for step, name in STEPS.items()]
    figures = [(Message("Pulls"), str(of.pulls)), (Message("Doses right"), f"{of.doses_right} / {of.doses}"),
               (Message("In window, of the latest"), str(of.steady.in_window)),
               (Message("Practice: faults named rightly"), f"{of.score.told} / {of.score.lessons}"),
               (Message("Practice: kinds of faults met"), f"{sum(of.score.met(cause) > 0 for cause in CAUSES)} / {len(CAUSES)}")]
    counted = [("", [sheet.head(name), f"<td>{value}</td>"]) for name, value in figures]
    lessons = [("", [sheet.head(done.lesson), f"<td>{escape(done.day)}</td>", f"<td>{done.right} / {done.of}</td>",
                     f"<td>{sheet.words(_how(done))}</td>"]) for done in of.lessons]
    body = "".join((
        sheet.header(of.name, f"{bar} · {day}" if bar else day, signed), "<main>",
        sheet.section(Message("What was shown"), sheet.grid(
            Message("Each step, when a trainer last saw it done right, and who"), (Message("Step"), Message("Day"), Message("Trainer")), steps)),
        sheet.section(Message("What the coffee came to"), sheet.grid(
            Message("Counted by the kiosk"), (Message("Figure"), Message("Value")), counted)),
        sheet.section(Message("Lessons at the practice bar"), sheet.grid(
            Message("The latest of each: faults named rightly"), (Message("Lesson"), Message("Day"), Message("Right"), Message("How")),
            lessons)) if lessons else "",
        f"<p>{sheet.words(Message('Hire: ____________________   Trainer: ____________________'))}</p></main>"))
    return sheet.document(of.name, day, body)
