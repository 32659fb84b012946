"""What was put right later: records as they are to be read now."""

from collections.abc import Iterable
from typing import TypeVar, cast

from kiosk.bar.model.record import Corrected, Record, to_json

Kept = TypeVar("Kept", bound=Record)


def corrected(records: Iterable[Kept]) -> tuple[Kept, ...]:
    """`records` in their order, with every correction among them followed, and the corrections themselves left out.

    A correction may itself have been corrected. One whose changes do not fit, or whose record is not here, changes
    nothing.
    """
    records = tuple(records)
    if not any(isinstance(kept, Corrected) for kept in records):
        return records
    holding: dict[str, list[Corrected]] = {}
    for kept in reversed(records):                        # the last first, so that each meets its own before it is made
        if isinstance(kept, Corrected) and (now := _put_right(kept, holding.get(kept.id, []))):
            holding.setdefault(now.of, []).insert(0, now)
    read = (_put_right(kept, holding.get(kept.id, [])) for kept in records if not isinstance(kept, Corrected))
    return tuple(kept for kept in read if kept is not None)


def _put_right(kept: Kept, corrections: list[Corrected]) -> Kept | None:
    for each in corrections:
        if each.void:
            return None
        try:
            kept = _changed(kept, each)
        except ValueError:
            pass
    return kept


def _changed(kept: Kept, by: Corrected) -> Kept:
    """Raises BadRecord, a ValueError."""
    from kiosk.bar.model.validate import validate  # the first frame does without

    return cast(Kept, validate({**to_json(kept), **by.changes, "kind": type(kept).__name__, "id": kept.id}))
