"""The evening's figures as rows: one list for the screen, the page and the table. Every row names the records it rests
on."""

from collections.abc import Iterable
from dataclasses import dataclass

from kiosk.bar.daychart import note_mark, scale_mark
from kiosk.bar.evening import Evening, GrinderEvening
from kiosk.bar.people import LEAST, Hands


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure. `key` names it among its group's; `low` and `high` are the ends of its 95 % interval; `of` is what a
    count is out of. A row without a `value` says in `words` what there is to say."""

    key: str
    name: str
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
        return "".join(said for said, _ in self.parts)

    @property
    def parts(self) -> tuple[tuple[str, tuple[str, float] | None], ...]:
        """What is read, piece by piece, with the name ("value", "low" …) and the exact value of each piece that is a
        number."""
        said: list = []
        if self.value is not None:
            said.append((_number(self.value, self.form), ("value", self.value)))
            if self.of is not None:
                said += [(" of ", None), (_number(self.of, self.form), ("of", self.of))]
            if self.unit:
                said.append((self.unit if self.unit == "%" else f" {self.unit}", None))
            if self.of:
                share = 100 * self.value / self.of
                said += [(" (", None), (_number(share, ".0f"), ("percent", share)), (" %)", None)]
            if self.low is not None:
                said += [(" (", None), (_number(self.low, self.form), ("low", self.low)), (" to ", None),
                         (_number(self.high, self.form), ("high", self.high)), (")", None)]
        if self.words:
            joint = "" if not said else ". " if self.words[0].isupper() else "; "
            said.append((joint + self.words, None))
        return tuple(said)


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading. `kind` is grinder, people, waste, service or notes."""

    kind: str
    name: str
    rows: tuple[Row, ...]


def groups(of: Evening, currency: str = "") -> tuple[Group, ...]:
    found = [Group("grinder", each.name, _grinder(each, of)) for each in of.grinders]
    if of.people:
        found.append(Group("people", "Hands", tuple(row for each in of.people for row in _person(each))))
    found += [Group("waste", "Waste", _waste(of, currency)), Group("service", "Service", _service(of)),
              Group("notes", "Noted", _notes(of))]
    return tuple(group for group in found if group.rows)


def _grinder(each: GrinderEvening, of: Evening) -> tuple[Row, ...]:
    figures, several = each.figures, of.several_days
    pulls = tuple(id for stretch in figures.stretches for id in stretch.pulls)
    told = tuple(id for stretch in figures.stretches for id in stretch.told)
    rows = [Row(key="pulls", name="Pulls", value=figures.pulls, record_ids=pulls)]
    if figures.judged:
        rows.append(Row(key="in_window", name="In their window", value=figures.in_window, of=figures.judged,
                        record_ids=pulls))
    if each.start is not None:
        rows.append(Row(key="start", name="Start tomorrow at", value=each.start.setting, words=each.start.why,
                        record_ids=each.start.record_ids))
    if figures.drift:
        drift = figures.drift
        rows.append(Row(key="drift", name="Drift, notches taken out", value=drift.s_per_hour, low=drift.low,
                        high=drift.high, form="+.2f", unit="s an hour", record_ids=told))
    moves = tuple(move.id for move in figures.moves)
    if each.moving:
        rows.append(Row(key="moving", name="Drift in notches", value=each.moving.value, low=each.moving.low,
                        high=each.moving.high, form="+.2f", unit="notches an hour", record_ids=told))
    if each.worth:
        rows.append(Row(key="worth", name="A notch is worth", value=each.worth.value, low=each.worth.low,
                        high=each.worth.high, form=".1f", unit="s", record_ids=moves,
                        words=f"{each.moves_before} of its {each.worth.count} moves in the weeks before"
                        if each.moves_before else ""))
    elif figures.pulls:
        rows.append(Row(key="worth", name="A notch is worth",
                        words="not known: it takes a move with three pulls before it "
                        "and three after", record_ids=moves))
    if figures.doses:
        rows.append(Row(key="doses_off", name="Doses outside their tolerance", value=figures.doses_off,
                        of=figures.doses, record_ids=pulls))
    for n, stretch in enumerate(figures.stretches, 1):
        when = f"{stretch.day} " if several else ""
        name = f"At {stretch.setting}, {when}{stretch.since[11:16]} to {stretch.until[11:16]}"
        rows.append(Row(key=f"stretch_{n}_pulls", name=f"{name}: pulls", value=len(stretch.pulls),
                        record_ids=stretch.pulls))
        if stretch.even_s is not None:
            rows.append(Row(key=f"stretch_{n}_even", name=f"{name}: even time", value=stretch.even_s, form=".1f",
                            unit="s", record_ids=stretch.told))
        if stretch.even_sd_s is not None:
            rows.append(Row(key=f"stretch_{n}_spread", name=f"{name}: spread", value=stretch.even_sd_s, form=".1f",
                            unit="s", record_ids=stretch.told))
        if stretch.drift is not None:
            rows.append(Row(key=f"stretch_{n}_drift", name=f"{name}: drift", value=stretch.drift.s_per_hour,
                            low=stretch.drift.low, high=stretch.drift.high, form="+.1f", unit="s an hour",
                            record_ids=stretch.told))
    rows += [Row(key=f"hour_{hour.label}", name=f"{hour.label}:00, in window" if len(hour.label) == 2
                 else f"{hour.label}, in window",
                 value=hour.in_window, of=hour.judged, record_ids=hour.pulls) for hour in each.hours if hour.judged]
    rows += [Row(key="move", name=f"{_clock(move.at, several)} moved", words=f"{move.before} to {move.after}"
                 + (f", by {move.by}" if move.by and of.names else ""), record_ids=(move.id,))
             for move in figures.moves]
    rows += [Row(key="flag", name=f"{_clock(flag.at, several)} flag", words=flag.sentence, record_ids=(flag.id,))
             for flag in figures.flags]
    return tuple(rows)


def _person(each: Hands) -> Iterable[Row]:
    yield Row(key=f"{each.name}_pulls", name=f"{each.name}: pulls", value=len(each.pulls), record_ids=each.pulls)
    few = f"fewer than {LEAST} to tell it by"
    yield Row(key=f"{each.name}_dose", name=f"{each.name}: doses spread by", value=each.dose_sd_g, form=".2f", unit="g",
              words="" if each.dose_sd_g is not None else few, record_ids=each.doses)
    yield Row(key=f"{each.name}_time", name=f"{each.name}: times spread by, the grinder's part taken out",
              value=each.time_sd_s, form=".1f", unit="s", words="" if each.time_sd_s is not None else few,
              record_ids=each.times)
    yield Row(key=f"{each.name}_skipped", name=f"{each.name}: pulls with a step left out", value=len(each.skipped_in),
              of=len(each.pulls), words=", ".join(f"{step} {n}" for step, n in each.skipped),
              record_ids=each.skipped_in)


def _waste(of: Evening, currency: str) -> tuple[Row, ...]:
    rows = []
    for cost in of.costs:
        assumed = ""
        if cost.assumed and cost.why != "all":
            assumed = f"{cost.assumed} not weighed: the recipe's dose was taken"
        rows.append(Row(key=f"{cost.why}_g", name=cost.name, value=cost.grams, form=".1f", unit="g", words=assumed,
                        record_ids=cost.record_ids))
        if cost.money is not None:
            rows.append(Row(key=f"{cost.why}_money", name=f"{cost.name}, what it cost", value=cost.money, form=".2f",
                            unit=currency, record_ids=cost.record_ids))
    return tuple(rows)


def _service(of: Evening) -> tuple[Row, ...]:
    figures, traffic = of.summary.figures, of.traffic
    pulls = tuple(pull.id for pull in figures.pulls)
    rows = []
    if traffic.orders or figures.orders_served or figures.orders_cancelled:
        rows += [Row(key="orders", name="Orders taken", value=traffic.orders),
                 Row(key="served", name="Orders served", value=figures.orders_served),
                 Row(key="cancelled", name="Orders cancelled", value=figures.orders_cancelled)]
    if pulls:
        rows.append(Row(key="pulls", name="Pulls", value=len(pulls), record_ids=pulls))
    for key, name, times in (("wait", "From order to last cup", traffic.waited),
                             ("make", "A pull's steps", traffic.made)):
        if times:
            rows += [Row(key=f"{key}_median", name=f"{name}, middle of {times.count}", value=times.median_s, unit="s",
                         record_ids=times.pulls),
                     Row(key=f"{key}_nine", name=f"{name}, nine in ten within", value=times.nine_in_ten_s, unit="s",
                         record_ids=times.pulls)]
    if traffic.busiest:
        rows.append(Row(key="busiest", name=f"Busiest hour, {traffic.busiest.label}:00: pulls",
                        value=len(traffic.busiest.pulls), record_ids=traffic.busiest.pulls))
    rows += [Row(key=f"lane_{group}", name=f"Group {group}: pulls", value=len(ids), record_ids=ids) for group,
             ids in traffic.lanes]
    for name, missing in (("dose", "dose_g"), ("yield", "yield_g"), ("time", "time_s")):
        ids = tuple(pull.id for pull in figures.pulls if getattr(pull, missing) is None)
        if ids:
            rows.append(Row(key=f"no_{name}", name=f"Pulls with no {name} measured", value=len(ids), of=len(pulls),
                            record_ids=ids))
    return tuple(rows)


def _notes(of: Evening) -> tuple[Row, ...]:
    marks = [mark for note in of.notes if (mark := note_mark(note))]
    marks += [scale_mark(check) for check in of.summary.figures.scale_checks]
    return tuple(Row(key=mark.kind, name=f"{_clock(mark.at, of.several_days)} {mark.kind}", words=mark.words,
                     record_ids=(mark.record_id,)) for mark in sorted(marks, key=lambda mark: mark.at))


def _number(value: float, form: str) -> str:
    text = f"{value:{form}}"
    return text.lstrip("+-") if float(text) == 0 else text       # no "-0.0"


def _clock(at: str, several: bool) -> str:
    return at[:16].replace("T", " ") if several else at[11:16]
