"""The evening's figures as rows: one list for the screen, the page and the table. Every row names the records it rests
on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from string import Formatter

from kiosk.bar.drift import TENTH_S
from kiosk.bar.evening.costs import Cost
from kiosk.bar.evening.day_chart import moved, note_mark, scale_mark
from kiosk.bar.evening.evening import Evening, GrinderEvening
from kiosk.bar.evening.figures import clock, in_window, moment
from kiosk.bar.evening.people import LEAST, Hands, practice
from kiosk.bar.messages import ENGLISH, Language, Message, joined, render

# What a figure is put together of.
ALONE, OUT_OF, A_SHARE, WITHIN = "{value}", Message("{value} of {of}"), Message(" ({percent} %)"), Message(" ({low} to {high})")
AN_HOUR, NOTCHES_AN_HOUR = Message("s an hour"), Message("notches an hour")
# A step's name in a count of its own, since "purge" is what grinders do too.
LEFT_OUT = {said.partition(" ")[0]: said for said in (
    Message("warm {n:d}"), Message("knock {n:d}"), Message("dose {n:d}"), Message("level {n:d}"), Message("tamp {n:d}"),
    Message("rim {n:d}"), Message("purge {n:d}"), Message("lock {n:d}"), Message("pull {n:d}"), Message("judge {n:d}"),
    Message("serve {n:d}"))}
SENT_BACK = {"cold": Message("{n:d} cold"), "wrong": Message("{n:d} wrong"), "tastes off": Message("{n:d} tasted off")}
TASTES = {"sour": Message("{n:d} sour"), "bitter": Message("{n:d} bitter"), "sour and bitter": Message("{n:d} sour and bitter"),
          "thin": Message("{n:d} thin"), "harsh": Message("{n:d} harsh"), "right": Message("{n:d} right")}
LEAST_WORTH_S = 0.2         # a notch finer never makes a pull faster: less than that, and the moves do not agree
PULLS, WORTH = Message("Pulls"), Message("A notch is worth")
DISAGREE = Message("not known: its moves do not agree")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure. `key` names it among its group's; `low` and `high` are the ends of its 95 % interval; `of` is what a
    count is out of. A row without a `value` says in `words` what there is to say. Where `about` is told apart, `name`
    begins with it."""

    key: str
    name: str
    about: str = ""
    value: float | None = None
    form: str = ".0f"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    of: float | None = None
    words: str = ""
    record_ids: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        return self.render(ENGLISH)

    def render(self, language: Language) -> str:
        return "".join(said for said, _ in self.parts(language))

    def parts(self, language: Language = ENGLISH) -> Iterable[tuple[str, tuple[str, float] | None]]:
        """What is read, piece by piece, with the name ("value", "low" …) and the exact value of each piece that is a
        number."""
        numbers: dict[str, float | None] = {"value": self.value, "of": self.of, "low": self.low, "high": self.high,
                   "percent": 100 * self.value / self.of if self.of and self.value is not None else None}
        for shape in self._shapes():
            for words, name, _, _ in Formatter().parse(language.gettext(shape)):
                if words:
                    yield words, None
                if name == "unit":
                    yield render(self.unit, language), None
                elif name and (number := numbers[name]) is not None:
                    form = ".0f" if name == "percent" else self.form
                    yield language.number(number, form), (name, number)
        if self.words:
            joint = "" if self.value is None else ". " if self.words[0].isupper() else "; "
            yield joint + language.render(self.words), None

    def _shapes(self) -> Iterable[str]:
        if self.value is not None:
            yield ALONE if self.of is None else OUT_OF
            if self.unit:
                yield "{unit}" if self.unit == "%" else " {unit}"
            if self.of:
                yield A_SHARE
            if self.low is not None:
                yield WITHIN


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading. `kind` is grinder, people, waste, service or notes."""

    kind: str
    name: str
    rows: tuple[Row, ...]


def groups(of: Evening, currency: str = "") -> tuple[Group, ...]:
    found = [Group("grinder", each.name, _grinder(each, of)) for each in of.grinders]
    if of.people:
        found.append(Group("people", Message("Team"), (
            *(row for each in of.people for row in _person(each)), *_practice(of.people))))
    found += [Group("waste", Message("Waste"), cost_rows(of.costs, currency)),
              Group("service", Message("Service"), _service(of)), Group("notes", Message("Noted"), _notes(of))]
    return tuple(group for group in found if group.rows)


# What a figure of a week is made of: where the rows of that week's own evening name the records.
OF_A_WEEK = {"pulls": ("service", "pulls"), "window": ("service", "in_window"), "waste": ("waste", "all_g"),
             "money": ("waste", "all_g"), "moves": ("grinder", "move")}


def behind(of: Evening, figure: str) -> tuple[str, ...]:
    """The records that make a figure of a week, none where it is not one of OF_A_WEEK; `of` is that week's evening."""
    wanted = OF_A_WEEK.get(figure)
    return tuple(id for group in groups(of) for row in group.rows if (group.kind, row.key) == wanted for id in row.record_ids)


def _grinder(each: GrinderEvening, of: Evening) -> tuple[Row, ...]:
    figures, several = each.figures, of.several_days
    pulls = tuple(id for run in figures.runs for id in run.pulls)
    used = tuple(id for run in figures.runs for id in run.told)
    judged = frozenset(_judged(of))
    rows = [Row(key="pulls", name=PULLS, value=figures.pulls, record_ids=pulls)]
    if figures.judged:
        rows.append(Row(key="in_window", name=Message("In their window"), value=figures.in_window, of=figures.judged,
                        record_ids=tuple(id for id in pulls if id in judged)))
    if each.start is not None:
        rows.append(Row(key="start", name=Message("Start tomorrow at"), value=each.start.setting, words=each.start.why,
                        record_ids=each.start.record_ids))
    if figures.drift:
        drift = figures.drift
        rows.append(Row(key="drift", name=Message("Drift, allowing for changes of the grind setting"), value=drift.s_per_hour, low=drift.low,
                        high=drift.high, form="+.2f", unit=AN_HOUR, record_ids=used))
    moves = tuple(move.id for move in figures.moves)
    if each.moving:
        rows.append(Row(key="moving", name=Message("Drift in notches"), value=each.moving.value, low=each.moving.low,
                        high=each.moving.high, form="+.2f", unit=NOTCHES_AN_HOUR, record_ids=used))
    if each.worth and each.worth.value >= LEAST_WORTH_S:
        rows.append(Row(key="worth", name=WORTH, value=each.worth.value,
                        low=max(0.0, each.worth.low), high=each.worth.high, form=".1f", unit="s", record_ids=moves,
                        words=Message("{n:d} of its {all:d} moves in the weeks before", n=each.moves_before,
                                      all=each.worth.count) if each.moves_before else ""))
    elif figures.pulls:
        rows.append(Row(key="worth", name=WORTH, record_ids=moves,
                        words=DISAGREE if each.worth else
                        Message("not known: it takes a move with three pulls before it and three after")))
    rows += [Row(key="timer", name=Message("Its timer wants"), value=wanted.tenths * TENTH_S, form="+.1f", unit="s",
                 words=Message("it grinds {rate:.1f} g a second", rate=wanted.g_per_s), record_ids=wanted.record_ids)
             for wanted in of.summary.timers if (wanted.grinder, wanted.coffee) == (figures.grinder, figures.coffee)]
    if figures.doses:
        rows.append(Row(key="doses_off", name=Message("Doses outside their tolerance"), value=figures.doses_off,
                        of=figures.doses, record_ids=figures.doses_off_ids))
    for n, run in enumerate(figures.runs, 1):
        since = f"{run.day} {run.since[11:16]}" if several else run.since[11:16]
        about = Message("At {setting}, {since} to {until}", setting=run.setting, since=since,
                        until=run.until[11:16])
        rows.append(Row(key=f"stretch_{n}_pulls", about=about, name=Message("{about}: pulls", about=about),
                        value=len(run.pulls), record_ids=run.pulls))
        if run.even_s is not None:
            rows.append(Row(key=f"stretch_{n}_even", about=about, name=Message("{about}: adjusted time", about=about),
                            value=run.even_s, form=".1f", unit="s", record_ids=run.told))
        if run.even_sd_s is not None:
            rows.append(Row(key=f"stretch_{n}_spread", about=about, name=Message("{about}: spread", about=about),
                            value=run.even_sd_s, form=".1f", unit="s", record_ids=run.told))
        if run.drift is not None:
            rows.append(Row(key=f"stretch_{n}_drift", about=about, name=Message("{about}: drift", about=about),
                            value=run.drift.s_per_hour, low=run.drift.low, high=run.drift.high, form="+.1f",
                            unit=AN_HOUR, record_ids=run.told))
    for hour in each.hours:
        if hour.judged:
            rows.append(Row(key=f"hour_{hour.label}", about=hour.clock, name=Message("{hour}, in window", hour=hour.clock),
                            value=hour.in_window, of=hour.judged,
                            record_ids=tuple(id for id in hour.pulls if id in judged)))
    for move in figures.moves:
        by = Message("{how}, by {name}", how=moved(move), name=move.by) if move.by and of.names else moved(move)
        rows.append(Row(key="move", name=Message("{when} moved", when=clock(move.at, several)), words=by,
                        record_ids=(move.id,)))
    rows += [Row(key="flag", name=Message("{when} flag", when=clock(flag.at, several)), words=flag.sentence,
                 record_ids=(flag.id,)) for flag in figures.flags]
    return tuple(rows)


def _judged(of: Evening) -> tuple[str, ...]:
    """What a share in window is out of: the pulls that went to a guest and were timed."""
    return tuple(pull.id for pull in of.summary.figures.pulls if pull.sink is None and in_window(pull) is not None)


def _person(each: Hands) -> Iterable[Row]:
    about, few = each.name, Message("fewer than {least:d} to tell it by", least=LEAST)
    yield Row(key=f"{about}_pulls", about=about, name=Message("{about}: pulls", about=about), value=len(each.pulls),
              record_ids=each.pulls)
    yield Row(key=f"{about}_dose", about=about, name=Message("{about}: doses spread by", about=about),
              value=each.dose_sd_g, form=".2f", unit="g", words="" if each.dose_sd_g is not None else few,
              record_ids=each.doses)
    yield Row(key=f"{about}_time", about=about, value=each.time_sd_s, form=".1f", unit="s",
              name=Message("{about}: times spread by, the grinder's part taken out", about=about),
              words="" if each.time_sd_s is not None else few, record_ids=each.times)
    if each.lean_s is not None and each.lean_within_s is not None:
        yield Row(key=f"{about}_lean", about=about, value=each.lean_s, low=each.lean_s - each.lean_within_s,
                  high=each.lean_s + each.lean_within_s, form="+.1f", unit="s", record_ids=each.times,
                  name=Message("{about}: times lean by, against everybody's", about=about))
    if each.seen:
        yield Row(key=f"{about}_early", about=about, name=Message("{about}: early first drops", about=about),
                  value=len(each.early), of=len(each.seen), record_ids=each.early)
    yield Row(key=f"{about}_skipped", about=about, name=Message("{about}: pulls with a step skipped", about=about),
              value=len(each.skipped_in), of=len(each.pulls), record_ids=each.skipped_in,
              words=joined(", ", [Message(LEFT_OUT.get(step, "{step} {n:d}"), step=step, n=n)
                                  for step, n in each.skipped]))


def _practice(hands: Sequence[Hands]) -> Iterable[Row]:
    found = practice(hands)
    if found is not None:
        name = Message("The practice bar would help {name} most, with {fault}", name=found.name, fault=found.fault)
        yield Row(key="practice", name=name, value=found.n, of=found.all, record_ids=found.pulls,
                  words=Message("{share:.0f} % among the others; a few minutes together are enough", share=100 * found.others))


def cost_rows(costs: Iterable[Cost], currency: str) -> tuple[Row, ...]:
    rows = []
    for cost in costs:
        assumed = ""
        if cost.assumed and cost.why != "all":
            assumed = Message("{n:d} not weighed: the recipe's dose was taken", n=cost.assumed)
        rows.append(Row(key=f"{cost.why}_g", name=cost.name, value=cost.grams, form=".1f", unit="g", words=assumed,
                        record_ids=cost.record_ids))
        if cost.money is not None:
            rows.append(Row(key=f"{cost.why}_money", name=Message("{waste}, what it cost", waste=cost.name),
                            value=cost.money, form=".2f", unit=currency, record_ids=cost.record_ids))
    return tuple(rows)


def _service(of: Evening) -> tuple[Row, ...]:
    figures, traffic = of.summary.figures, of.traffic
    pulls = tuple(pull.id for pull in figures.pulls)
    rows = []
    if traffic.orders or figures.orders_served or figures.orders_cancelled:
        rows += [Row(key="orders", name=Message("Orders taken"), value=traffic.orders),
                 Row(key="served", name=Message("Orders served"), value=figures.orders_served),
                 Row(key="cancelled", name=Message("Orders cancelled"), value=figures.orders_cancelled)]
    back = [note for note in of.notes if note.what == "sent back"]
    if back:
        whys = [note.facts.get("why") for note in back]
        rows.append(Row(key="sent_back", name=Message("Sent back"), value=len(back), record_ids=tuple(note.id for note in back),
                        words=joined(", ", [Message(said, n=whys.count(why)) for why, said in SENT_BACK.items() if why in whys])))
    tasted = [note for note in of.notes if note.what == "tasted"]
    if tasted:
        found = [note.facts.get("taste") for note in tasted]
        rows.append(Row(key="tasted", name=Message("Tasted"), value=len(tasted), record_ids=tuple(note.id for note in tasted),
                        words=joined(", ", [Message(said, n=found.count(taste)) for taste, said in TASTES.items() if taste in found])))
    extracted = [note.facts["extraction_percent"] for note in tasted if note.facts.get("extraction_percent")]
    if extracted:
        rows.append(Row(key="extraction", name=Message("Extraction, mean of {n:d}", n=len(extracted)), unit="%", form=".1f",
                        value=sum(extracted) / len(extracted),
                        record_ids=tuple(note.id for note in tasted if note.facts.get("extraction_percent"))))
    if pulls:
        rows.append(Row(key="pulls", name=PULLS, value=len(pulls), record_ids=pulls))
    if figures.judged:
        rows.append(Row(key="in_window", name=Message("In their window"), value=figures.in_window, of=figures.judged,
                        record_ids=_judged(of)))
    for key, about, times in (("wait", Message("From order to last cup"), traffic.waited),
                              ("make", Message("A pull's steps"), traffic.made)):
        if times:
            rows += [Row(key=f"{key}_median", name=Message("{about}, median of {n:d}", about=about, n=times.count),
                         value=times.median_s, unit="s", record_ids=times.pulls),
                     Row(key=f"{key}_nine", name=Message("{about}, nine in ten within", about=about),
                         value=times.nine_in_ten_s, unit="s", record_ids=times.pulls)]
    if traffic.busiest:
        rows.append(Row(key="busiest", name=Message("Busiest hour, {hour}: pulls", hour=traffic.busiest.clock),
                        value=len(traffic.busiest.pulls), record_ids=traffic.busiest.pulls))
    rows += [Row(key=f"lane_{group}", name=Message("Group {group}: pulls", group=group), value=len(ids), record_ids=ids)
             for group, ids in traffic.lanes]
    for what, missing in ((Message("dose"), "dose_g"), (Message("yield"), "yield_g"), (Message("time"), "time_s")):
        ids = tuple(pull.id for pull in figures.pulls if getattr(pull, missing) is None)
        if ids:
            rows.append(Row(key=f"no_{what}", name=Message("Pulls with no {what} measured", what=what), value=len(ids),
                            of=len(pulls), record_ids=ids))
    return tuple(rows)


def _notes(of: Evening) -> tuple[Row, ...]:
    marks = [mark for note in of.notes if (mark := note_mark(note))]
    marks += [scale_mark(check) for check in of.summary.figures.scale_checks]
    return tuple(Row(key=mark.kind, words=mark.words, record_ids=(mark.record_id,),
                     name=Message("{when} {what}", when=clock(mark.at, of.several_days), what=mark.kind))
                 for mark in sorted(marks, key=lambda mark: moment(mark.at)))
