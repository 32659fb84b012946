"""Changing one setting of a nested dictionary: what it comes to, what would be wrong with it, and how it is written."""

from typing import Any

from kiosk.bar.model import read

Path = tuple[str, ...]


def changed(settings: dict[str, Any], path: Path, value: Any) -> dict[str, Any]:
    """The settings with one value changed, the given ones left alone; None takes the entry away."""
    head, *rest = path
    if rest:
        within = settings.get(head)
        return settings | {head: changed(within if isinstance(within, dict) else {}, tuple(rest), value)}
    return settings | {head: value} if value is not None else {k: v for k, v in settings.items() if k != head}


def problems(settings: dict[str, Any], path: Path, value: Any) -> tuple[str, ...]:
    """A sentence for each thing that would be wrong with that value; what is wrong elsewhere is not its fault."""
    for n, part in enumerate(path):
        if ("." in part or not part.strip()) and _at(settings, path[:n + 1]) is None:
            return ("A name has at least one letter and no full stop. Choose another.",)
    _, before = read(settings)
    _, without = read(changed(settings, path, None))
    _, complaints = read(changed(settings, path, value))
    return tuple(each for each in complaints if each not in before or each not in without)


def written(settings: dict[str, Any], path: Path, value: Any) -> tuple[str, Any]:
    """The dotted path to write, and its value. What an older program let have a full stop in its name is written with
    all that it lies in."""
    whole = path[:next((n for n, part in enumerate(path) if "." in part), len(path))]
    return ".".join(whole), _at(changed(settings, path, value), whole)


def _at(settings: Any, path: Path) -> Any:
    """What lies at `path`; None where nothing does."""
    for part in path:
        settings = settings.get(part) if isinstance(settings, dict) else None
    return settings
