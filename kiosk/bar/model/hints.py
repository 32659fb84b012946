"""Whether what JSON gave has the type that a field is annotated with."""

import re
from collections.abc import Callable
from functools import cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin

LARGEST, DEEPEST = 1e9, 12          # any number; a dictionary in a dictionary
HALF = re.compile("[\ud800-\udfff]")


@cache
def checker(hint: Any) -> Callable[[Any], bool]:
    """Tells whether a value that JSON gave may stand where a field is annotated with `hint`: str, int, float, bool,
    None, a union of them, a tuple of names and numbers, a dictionary, or Any of all that."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin is UnionType:
        either = [checker(part) for part in parts]
        return lambda value: any(each(value) for each in either)
    if origin is tuple and parts[-1] is Ellipsis:
        each = _inside(parts[0])
        return lambda value: isinstance(value, (list, tuple)) and all(map(each, value))
    if origin is tuple:
        turn = [_inside(part) for part in parts]
        return lambda value: isinstance(value, (list, tuple)) and len(value) == len(turn) and all(
            each(one) for each, one in zip(turn, value))
    if origin is dict:
        return lambda value: isinstance(value, dict) and _holds(value)
    return {Any: _holds, str: _is_text, float: _is_number,
            int: lambda value: isinstance(value, int) and _is_number(value),
            bool: lambda value: isinstance(value, bool), NoneType: lambda value: value is None}[hint]


def _inside(hint: Any) -> Callable[[Any], bool]:
    """As `fits`, of what stands in a list: a text there is a name, and no name is blank."""
    return (lambda value: _is_text(value) and bool(value.strip())) if hint is str else checker(hint)


def _holds(value: Any, deep: int = 0) -> bool:
    if isinstance(value, dict):
        return deep < DEEPEST and all(_is_text(name) and _holds(each, deep + 1) for name, each in value.items())
    if isinstance(value, (list, tuple)):
        return deep < DEEPEST and all(_holds(each, deep + 1) for each in value)
    return value is None or isinstance(value, bool) or _is_text(value) or _is_number(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= LARGEST    # nor NaN


def _is_text(value: Any) -> bool:
    """Half of a pair of surrogates is a str to Python, and to no file or screen."""
    return isinstance(value, str) and not HALF.search(value)
