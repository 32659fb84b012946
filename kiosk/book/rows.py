"""A pull as a row of a spreadsheet, and back, without its curve.

    at, day, station                     wall time (ISO 8601 with its offset), service day, whose
    id, order_id, grinder, coffee        as kept
    setting, basket, group, cups         notches (more is coarser), single or double, from 1, 1 or 2
    drinks, skipped, notes               words, "; " between
    barista                              a first name or a pseudonym
    dose_g, yield_g, time_s, first_drop_s   measured; …_from says by whom: tap or scale
    dose_kept, warmed, purged, practice  true or false
    grind_to_pull_s, lock_to_pump_s      seconds waited
    step_s                               step=seconds, "; " between
    sink                                 why it was thrown away; empty where it was served
    target_…, …_within, …_low, …_high    the recipe: its aims, their tolerances, the windows that follow

Empty means not measured. Grams and seconds have a decimal point. A text that a spreadsheet would take for a formula,
and one that begins with an apostrophe, has an apostrophe before it.
"""

import re
from collections.abc import Callable, Iterable
from typing import Any, cast

from kiosk.bar.model import BadRecord, Pull, Recipe, validate

# Columns of a pull that are its own fields, then those of its recipe, then what follows from the recipe.
TEXTS = ("at", "id", "order_id", "grinder", "coffee", "barista", "dose_from", "yield_from", "time_from",
         "first_drop_from", "on_from", "sink")
WORDS = ("drinks", "skipped", "not_told", "notes")
WHOLE = ("setting", "group", "cups")
MEASURED = ("dose_g", "yield_g", "time_s", "first_drop_s", "grind_to_pull_s", "lock_to_pump_s", "stop_tapped_s")
PLUS_MINUS = {"time_plus_minus_s": "time_within_s"}     # the recipe has the other name: how far a time may be off it
TRUTHS = ("dose_kept", "warmed", "purged", "practice")
RECIPE = {"target_dose_g": "dose_g", "target_time_s": "time_s", "target_amount": "amount", "target_unit": "unit",
          "dose_within_g": "dose_within_g", "amount_within": "amount_within", "time_within_s": "time_within_s",
          "target_first_drop_from_s": "first_drop_from_s", "target_first_drop_to_s": "first_drop_to_s",
          "target_purge_s": "purge_s", "g_per_ml": "g_per_ml"}
DERIVED: dict[str, Callable[[Recipe], float]] = {
    "target_yield_g": lambda recipe: recipe.yield_g,
    "yield_low_g": lambda recipe: recipe.yield_window_g[0], "yield_high_g": lambda recipe: recipe.yield_window_g[1],
    "time_low_s": lambda recipe: recipe.time_window_s[0], "time_high_s": lambda recipe: recipe.time_window_s[1]}
COLUMNS = (
    "at", "day", "station", "id", "order_id", "grinder", "coffee", "setting", "basket", "group", "cups", "drinks",
    "barista", "dose_g", "dose_from", "dose_kept", "yield_g", "yield_from", "time_s", "time_from", "first_drop_s",
    "first_drop_from", "grind_to_pull_s", "lock_to_pump_s", "warmed", "purged", "skipped", "step_s", "sink", "notes",
    "practice",
    "target_dose_g", "target_yield_g", "target_time_s", "yield_low_g", "yield_high_g", "time_low_s", "time_high_s",
    "dose_within_g", "target_amount", "target_unit", "amount_within", "time_within_s", "target_first_drop_from_s",
    "target_first_drop_to_s", "target_purge_s", "g_per_ml", "on_from", "time_plus_minus_s", "stop_tapped_s", "not_told")


def row(pull: Pull, day: str, station: str, names: bool = True) -> dict[str, str]:
    """A pull as the cells of `COLUMNS`; without `names` nobody is said to have made it."""
    cells = {"day": day, "station": inert(station), "basket": pull.basket}
    cells |= {name: inert(getattr(pull, name)) for name in TEXTS}
    cells["barista"] = cells["barista"] if names else ""
    cells |= {name: inert(_joined(getattr(pull, name)) or None) for name in WORDS}
    cells |= {name: _number(getattr(pull, name)) for name in (*WHOLE, *MEASURED)}
    cells |= {name: _number(getattr(pull, of)) for name, of in PLUS_MINUS.items()}
    cells |= {name: _truth(getattr(pull, name)) for name in TRUTHS}
    cells["step_s"] = inert(_joined(f"{step}={_number(time_s)}" for step, time_s in pull.step_s) or None)
    cells |= {name: str(getattr(pull.recipe, of)) for name, of in RECIPE.items()}
    cells |= {name: f"{reckon(pull.recipe):.6g}" for name, reckon in DERIVED.items()}
    return cells


def pull_of(cells: dict[str, str]) -> Pull:
    """The pull that `row` was given, without its curve; a cell that is not there is empty. Raises BadRecord."""
    cells = {name: cells.get(name) or "" for name in COLUMNS}
    fields: dict[str, Any] = {name: text_of(cells[name]) for name in TEXTS}
    fields |= {name: _words(cells[name]) for name in WORDS}
    fields |= {name: _read(cells, name, int) for name in WHOLE}
    fields |= {name: _read(cells, name, float) if cells[name] else None for name in MEASURED}
    fields |= {of: _read(cells, name, float) if cells[name] else None for name, of in PLUS_MINUS.items()}
    fields |= {name: _read(cells, name, _truth_of) for name in TRUTHS}
    fields["step_s"] = _read(cells, "step_s", _steps)
    fields["recipe"] = {"coffee": fields["coffee"], "basket": cells["basket"]} | {
        of: _read(cells, name, str if of == "unit" else float) for name, of in RECIPE.items()}
    return cast(Pull, validate({"kind": "Pull", **fields}))


def inert(text: str | None) -> str:
    """Spreadsheets run what begins like a formula, whatever the column (OWASP, "CSV Injection")."""
    if text is None:
        return ""
    risky = not text or text[0] in "'\t\r\n" or text.lstrip()[:1] in tuple("=+-@＝＋－＠")
    return "'" + text if risky else text


def text_of(cell: str) -> str | None:
    return (cell[1:] if cell.startswith("'") else cell) if cell else None


def _read(cells: dict[str, str], name: str, kind: Callable[[str], Any]) -> Any:
    try:
        return kind(cells[name])
    except (KeyError, ValueError):
        raise BadRecord(f"{name} cannot be “{cells[name][:40]}”" if cells[name] else f"it has no {name}") from None


def _truth_of(cell: str) -> bool | None:
    return {"true": True, "false": False, "": None}[cell.lower()]


def _steps(cell: str) -> list[list]:
    return [[name, float(time_s)] for name, _, time_s in (step.rpartition("=") for step in _words(cell))]


def _joined(words: Iterable[str]) -> str:
    return "; ".join(word.replace("\\", "\\\\").replace(";", "\\;") for word in words)


def _words(cell: str) -> list[str]:
    words = re.findall(r"((?:\\.|[^\\;])+)(?:; |$)", text_of(cell) or "", re.DOTALL)
    return [re.sub(r"\\(.)", r"\1", word, flags=re.DOTALL) for word in words]


def _number(value: float | None) -> str:
    return "" if value is None else str(value)


def _truth(value: bool | None) -> str:
    return {True: "true", False: "false", None: ""}[value]
