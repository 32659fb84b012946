"""The rooms and the one way between them: what may import what, no circles, and the written style."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MAY = {
    "hardware": set(),
    "kiosk.bar": set(),
    "kiosk.book": {"kiosk.bar"},
    "kiosk.station": {"kiosk.bar", "kiosk.book", "hardware", "kiosk.page", "kiosk.languages", "kiosk.places"},
    "kiosk.page": {"kiosk.bar", "kiosk.languages", "kiosk.places"},
    "kiosk.practice": {"kiosk.bar", "kiosk.station", "kiosk.screens", "hardware"},
    "kiosk.screens": {"kiosk.bar", "kiosk.book", "kiosk.station", "kiosk.practice", "kiosk.languages", "kiosk.places", "hardware"},
    "kiosk.commands": {"kiosk.bar", "kiosk.book", "kiosk.station", "kiosk.practice", "kiosk.page", "kiosk.screens", "kiosk.app",
                       "kiosk.display", "kiosk.languages", "kiosk.places", "hardware"},
}
IN_THE_BAR = {
    "model": set(), "guide": {"model"}, "weighing": {"model"}, "drift": {"model"}, "training": {"model", "guide"},
    "evening": {"model", "drift"},
}
FORBIDDEN = {
    "kiosk/bar": {"kivy", "tinydb", "serial", "time", "os", "pathlib", "threading", "socket", "subprocess"},
    "kiosk/book": {"kivy"}, "kiosk/station": {"kivy"}, "hardware": {"kivy", "kiosk"},
}


def modules() -> dict[str, Path]:
    found = {}
    for room in ("kiosk", "hardware"):
        for path in (ROOT / room).rglob("*.py"):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            found[name.removesuffix(".__init__")] = path
    return found


def imports(path: Path, *, late: bool = True) -> set[str]:
    """Every module that the file imports; without `late`, only those that it imports while it is imported itself."""
    tree, named = ast.parse(path.read_text("utf-8")), set()
    nodes = ast.walk(tree) if late else tree.body
    for node in nodes:
        if isinstance(node, ast.Import):
            named |= {each.name for each in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            named |= {node.module} | {f"{node.module}.{each.name}" for each in node.names}
    return named


def room(name: str) -> str | None:
    return next((each for each in sorted({*MAY, *(v for may in MAY.values() for v in may)}, key=len, reverse=True)
                 if name == each or name.startswith(each + ".")), None)


def test_every_arrow_of_the_map_holds():
    known, wrong = modules(), []
    for name, path in known.items():
        here = room(name)
        if here not in MAY:
            continue
        wrong += [f"{name} → {there}" for each in imports(path) if (there := room(each)) and there != here
                  and there not in MAY[here]]
    assert not wrong


def test_every_arrow_inside_the_bar_holds():
    wrong = []
    for name, path in modules().items():
        if not name.startswith("kiosk.bar.") or name.count(".") < 3:
            continue
        here = name.split(".")[2]
        there = {each.split(".")[2] for each in imports(path) if each.startswith("kiosk.bar.") and each.count(".") >= 2}
        wrong += [f"{name} → {each}" for each in there & set(IN_THE_BAR) if each != here and each not in IN_THE_BAR[here]]
    assert not wrong


@pytest.mark.parametrize("folder", FORBIDDEN)
def test_what_a_room_is_kept_free_of(folder):
    for path in (ROOT / folder).rglob("*.py"):
        assert not {each.split(".")[0] for each in imports(path)} & FORBIDDEN[folder], path


def test_no_import_circle():
    known = modules()
    graph = {name: {each for each in imports(path, late=False) if each in known and each != name} for name, path in known.items()}
    # A package's door imports its own modules; that a module is inside the package is no circle.
    graph = {name: {each for each in there if not name.startswith(each + ".")} for name, there in graph.items()}
    done: set[str] = set()

    def visit(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, " → ".join((*way[way.index(name):], name))
        if name not in done:
            for each in graph[name]:
                visit(each, (*way, name))
            done.add(name)

    for name in graph:
        visit(name, ())


def test_a_front_door_names_what_others_may_use():
    for folder in ("model", "guide", "weighing", "drift", "evening", "training"):
        tree = ast.parse((ROOT / "kiosk" / "bar" / folder / "__init__.py").read_text("utf-8"))
        assert ast.get_docstring(tree)
        assert any(isinstance(node, ast.Assign) and node.targets[0].id == "__all__" for node in tree.body)


def test_the_written_style_holds():
    told = subprocess.run([sys.executable, "-m", "ruff", "check", "--quiet", "--no-cache", str(ROOT)], capture_output=True, text=True)
    assert told.returncode == 0, told.stdout


def test_every_step_of_the_five_ways_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    ways = text[text.index("## Five ways"):text.index("## Seams")]
    steps = re.findall(r"`((?:kiosk|hardware)\.[\w.]+)`", ways)
    assert len(steps) >= 25
    for step in steps:
        module = next(".".join(step.split(".")[:n]) for n in range(step.count(".") + 1, 0, -1)
                      if ".".join(step.split(".")[:n]) in modules())
        tree, names = ast.parse(modules()[module].read_text("utf-8")), step.removeprefix(module + ".").split(".")
        for name in names:
            tree = next((each for each in tree.body if getattr(each, "name", None) == name), None)
            assert tree is not None, step
