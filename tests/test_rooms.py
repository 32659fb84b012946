"""The rooms and the one way between them: what may import what, no circles, and the written style."""

import ast
import builtins
import os
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
# Modules that others may open though their package's door does not name what is in them, and why.
DOORS_OF_THEIR_OWN = {
    **dict.fromkeys(("kiosk.bar.model.setup", "kiosk.bar.model.tasks", "kiosk.bar.model.lessons", "kiosk.bar.model.ticket",
                     "kiosk.bar.drift.taste"), "a vocabulary, whose words (OUT, NOTHING, SOUR) mean something only beside each other"),
    "kiosk.bar.evening.span": "long spans have an `as_plain` and a `span` as the evening has",
    **dict.fromkeys(("kiosk.book.backup", "kiosk.book.exchange", "kiosk.book.rows", "kiosk.book.sums"),
                    "whoever only keeps records waits for none of it"),
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


def doors() -> dict[str, frozenset[str]]:
    """Packages whose `__init__` names what others may use, and what it names."""
    found = {}
    for name, path in modules().items():
        if path.name == "__init__.py":
            tree = ast.parse(path.read_text("utf-8"))
            named = [ast.literal_eval(node.value) for node in tree.body if isinstance(node, ast.Assign)
                     and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "__all__"]
            if named:
                assert ast.get_docstring(tree), name
                found[name] = frozenset(named[0])
    return found


def test_a_front_door_names_what_others_may_use():
    """Nobody outside a package reaches past its door, but for the modules that are doors of their own."""
    known, doors_of = modules(), doors()
    assert {f"kiosk.bar.{each}" for each in IN_THE_BAR} | {"kiosk.book", "kiosk.page"} <= doors_of.keys()
    past, used = [], set()
    for name, path in known.items():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.ImportFrom) or not node.module:
                continue
            for package, named in doors_of.items():
                if name == package or name.startswith(f"{package}."):
                    continue
                whole = [f"{node.module}.{each.name}" for each in node.names] if node.module == package else []
                modules_of = [each for each in whole if each in known and each.rpartition(".")[2] not in named]
                reached = modules_of or ([node.module] if node.module.startswith(f"{package}.") and node.module not in doors_of else [])
                used |= set(reached) & DOORS_OF_THEIR_OWN.keys()
                past += [f"{name} → {each}" for each in reached if each not in DOORS_OF_THEIR_OWN]
    assert not past
    assert used == DOORS_OF_THEIR_OWN.keys()


def test_the_written_style_holds():
    told = subprocess.run([sys.executable, "-m", "ruff", "check", "--quiet", "--no-cache", str(ROOT)], capture_output=True, text=True)
    assert told.returncode == 0, told.stdout


def test_the_types_hold():
    told = subprocess.run([sys.executable, "-m", "mypy", "--cache-dir", os.devnull], capture_output=True, text=True, cwd=ROOT)
    assert told.returncode == 0, told.stdout


def test_what_the_types_leave_out_is_said_why():
    for name, path in modules().items():
        for line in path.read_text("utf-8").splitlines():
            if "# type: " + "ignore" in line:
                assert re.search(r"# type: ignore\[[\w-]+\]  # \w", line), f"{name}: {line.strip()}"


def test_no_part_of_the_station_takes_the_whole_station():
    """Each is handed what it needs, typed: a parameter without a type may be anything, the whole station too."""
    for path in (ROOT / "kiosk" / "station").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
                for each in given:
                    typed = ast.unparse(each.annotation) if each.annotation is not None else ""
                    assert typed or each.arg in ("self", "cls"), f"{path.name}: {node.name}({each.arg})"
                    assert not re.search(r"\bStation\b", typed), f"{path.name}: {node.name}({each.arg}: {typed})"


def test_threads_begin_where_somebody_waits_for_their_end():
    """A port's own and the book's writer; all other work beside the screens is begun by `station.aside`."""
    begin = {name for name, path in modules().items() if name.startswith(("kiosk.", "hardware"))
             and re.search(r"\bThread\(", path.read_text("utf-8"))}
    assert begin == {"kiosk.book.book", "kiosk.station.aside", "hardware.scale", "hardware.contact", "hardware.ticket",
                     "hardware.practice.scale"}


def test_no_room_of_the_screens_keeps_a_record_or_a_setting_by_itself():
    """It asks the station: what was kept then does not hang on which room was open."""
    for path in (ROOT / "kiosk" / "screens").rglob("*.py"):
        told = re.findall(r"\bbook\.(?:keep|keep_all|jot|remember|new_id|set_setting)\(", path.read_text("utf-8"))
        assert not told, f"{path}: {told}"


def test_no_class_name_has_two_meanings():
    where: dict[str, list[str]] = {}
    for name, path in modules().items():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                where.setdefault(node.name, []).append(name)
    assert {each: names for each, names in where.items() if len(names) > 1} == {}


def test_what_a_docstring_says_is_raised_is_an_exception_that_there_is():
    sources = {name: path.read_text("utf-8") for name, path in modules().items()}
    known = {*dir(builtins), *(node.name for text in sources.values() for node in ast.walk(ast.parse(text))
                               if isinstance(node, ast.ClassDef))}
    wrong = [f"{name}: {said[0]}" for name, text in sources.items() for said in re.finditer(r"\b[Rr]aises ([A-Z]\w+)", text)
             if said[1] not in known]
    assert not wrong
