"""Records without the people in them, for a bar that has them switched off: what leaves its book names nobody."""

from typing import Any

from kiosk.bar.model import Record, SettingChanged, to_json
from kiosk.book.forget import PEOPLE


def nameless(record: Record) -> dict[str, Any] | None:
    """As JSON holds it, with nothing where a person's name would stand; None for a setting of the staff, which is all names."""
    if isinstance(record, SettingChanged) and ((path := record.path.split("."))[0] == "staff" or path[-1] in PEOPLE):
        return None
    return _without(to_json(record))


def _without(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_without(each) for each in value]
    if isinstance(value, dict):
        return {key: None if key in PEOPLE else _without(each) for key, each in value.items()}
    return value
