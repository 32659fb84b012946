"""What the tests of a room would not notice: `python -m tests.bench.mutants [HOW_MANY] [--seed N] [--room ROOM]`.

One thing at a time is changed in the source of a room of the bar (a comparison, a sign, a number, a condition, a statement
left out), and that room's own tests are run on it, only those that come by there and the quickest first, until one fails. What
no test notices is listed, to be judged by hand: some changes change nothing that anybody could see.
"""

import argparse
import ast
import copy
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from math import sqrt
from multiprocessing import get_context
from pathlib import Path
from random import Random

import pytest

from tests.bench.bars import Bars

ROOT = Path(__file__).parents[2]
ROOMS = ("guide", "drift", "weighing")
LEFT_BEHIND = shutil.ignore_patterns(".git", "__pycache__", ".*cache", ".hypothesis", "assets", "demo_data")
COMPARED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
            ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In}
REVERSED = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
RECKONED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Mult,
            ast.Mod: ast.Mult}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
EVERYWHERE = ""                 # of a change that any function may come by


@dataclass(frozen=True)
class Mutant:
    """The `nth` change that can be made to `file`, and the function, by its qualified name, that it lies in."""

    file: str
    nth: int
    line: int
    what: str
    within: str


def changes(tree: ast.Module) -> Iterator[tuple[ast.AST, str, str]]:
    """Every change that can be made, as (node, how, qualified name of its function); in an order that does not change."""
    yield from _inside(tree, "")


def _inside(node: ast.AST, within: str) -> Iterator[tuple[ast.AST, str, str]]:
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or _says_nothing(child):
                continue
            here = within
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                here = f"{within}.{child.name}" if within else child.name
            for how in _ways(child, node):
                yield child, how, here
            yield from _inside(child, here)


def _says_nothing(node: ast.AST) -> bool:
    """Imports, `__all__` and docstrings."""
    match node:
        case ast.Import() | ast.ImportFrom() | ast.Expr(value=ast.Constant()):
            return True
        case ast.Assign(targets=[ast.Name(id="__all__")]):
            return True
    return False


def _ways(node: ast.AST, parent: ast.AST) -> list[str]:
    match node:
        case ast.Compare(ops=[op]):
            return ["compare"] + (["reverse"] if type(op) in REVERSED else [])
        case ast.BinOp(op=op) if type(op) in RECKONED and not isinstance(node.left, ast.Constant | ast.JoinedStr | ast.List) | (
                isinstance(node.left, ast.Constant) and isinstance(node.left.value, int | float)):
            return ["reckon"]
        case ast.BoolOp():
            return ["and/or"]
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            return ["drop the sign"]
        case ast.If() | ast.While() | ast.IfExp():
            return ["turn the condition"]
        case ast.Constant(value=bool()):
            return ["turn"]
        case ast.Constant(value=int() | float()) if not isinstance(parent, ast.keyword | ast.MatchValue):
            return ["more"]
        case ast.Call(func=ast.Name(id=name)) if name in CALLED:
            return ["the other end"]
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            return ["leave out"]
        case ast.Return(value=ast.AST() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            return ["return nothing"]
    return []


def changed(source: str, nth: int) -> str:
    """The source with its `nth` change made."""
    tree = ast.parse(source)
    node, how, _ = next(each for n, each in enumerate(changes(tree)) if n == nth)
    new = _made(node, how)

    class Put(ast.NodeTransformer):
        def visit(self, each: ast.AST) -> ast.AST:
            return new if each is node else self.generic_visit(each)

    return ast.unparse(ast.fix_missing_locations(Put().visit(tree)))


def _made(node: ast.AST, how: str) -> ast.AST:
    new = copy.deepcopy(node)
    match how:
        case "compare":
            new.ops = [COMPARED[type(node.ops[0])]()]
        case "reverse":
            new.ops = [REVERSED[type(node.ops[0])]()]
        case "reckon":
            new.op = RECKONED[type(node.op)]()
        case "and/or":
            new.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case "drop the sign":
            new = new.operand
        case "turn the condition":
            new.test = ast.UnaryOp(op=ast.Not(), operand=new.test)
        case "turn":
            new.value = not node.value
        case "more":
            new.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + (node.value == 0)
        case "the other end":
            new.func.id = CALLED[node.func.id]
        case "leave out":
            new = ast.Pass()
        case "return nothing":
            new.value = ast.Constant(value=None)
    return ast.copy_location(new, node)


def mutants_of(file: str) -> list[Mutant]:
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return [Mutant(file, nth, node.lineno, f"{how}: {_short(node)}  →  {_short(_made(node, how))}", within)
            for nth, (node, how, within) in enumerate(changes(tree))]


def _short(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0][:60]


class Passes:
    """A pytest plugin: which functions under kiosk/bar each test comes by, and how long it takes."""

    def __init__(self, root: Path):
        self._bar = str(root / "kiosk" / "bar")
        self._root = len(str(root)) + 1
        self.by: dict[str, set[tuple[str, str]]] = {}
        self.took: dict[str, float] = {}

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        seen: set[object] = set()

        def heard(frame, event, _what):
            if event == "call":
                seen.add(frame.f_code)

        began = time.perf_counter()
        sys.setprofile(heard)
        yield
        sys.setprofile(None)
        self.took[item.nodeid] = time.perf_counter() - began
        self.by[item.nodeid] = {(code.co_filename[self._root:], code.co_qualname.partition(".<")[0]) for code in seen
                                if code.co_filename.startswith(self._bar)}


def run(tree: Path, tests: list[str], plugins: tuple = ()) -> int:
    """pytest's own exit code, in this process, on the project in `tree`."""
    os.chdir(tree)
    sys.path[:] = [str(tree), *(each for each in sys.path if each not in ("", str(ROOT), str(tree)))]
    for name in [name for name in sys.modules if name.split(".")[0] in ("kiosk", "hardware", "tests")]:
        del sys.modules[name]
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        return int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", "-p", "no:randomly", "--no-header", *tests], plugins=list(plugins)))


def _in_a_child(then, *given, limit_s: float = 3600.0):
    """What `then(*given)` answers with in a process of its own, which begins with what is loaded here; None past its time."""
    context = get_context("fork")
    ours, theirs = context.Pipe(duplex=False)

    def work():
        signal.alarm(int(limit_s) + 1)
        theirs.send(then(*given))

    child = context.Process(target=work)
    child.start()
    theirs.close()
    try:
        return ours.recv()
    except EOFError:
        return None
    finally:
        child.join()


def _passes(tree: Path, tests: tuple[str, ...]) -> tuple[dict, dict, int]:
    plugin = Passes(tree)
    code = run(tree, list(tests), (plugin,))
    return plugin.by, plugin.took, code


class Runner:
    """A copy of the project, and which of its tests come by where. Raises RuntimeError where they fail as it stands."""

    def __init__(self, folder: Path, tests: tuple[str, ...]):
        self.tree = Path(shutil.copytree(ROOT, folder / "project", ignore=LEFT_BEHIND))
        for needed in ("assets", "demo_data"):
            (self.tree / needed).symlink_to(ROOT / needed)
        self.by, self.took, code = _in_a_child(_passes, self.tree, tests)
        if code != 0:
            raise RuntimeError(f"The tests fail as they stand: {' '.join(tests)}")

    def tests_by(self, mutant: Mutant) -> list[str]:
        """The tests that come by the changed function, the quickest first; by its file, where it lies outside of any."""
        functions = {name for _, name in set().union(*self.by.values())}
        here = mutant.within if mutant.within in functions else EVERYWHERE
        found = [test for test, by in self.by.items()
                 if any(file == mutant.file and here in (EVERYWHERE, name) for file, name in by)]
        return sorted(found, key=self.took.__getitem__)

    def caught(self, mutant: Mutant) -> bool:
        tests = self.tests_by(mutant)
        if not tests:
            return False
        path, source = self.tree / mutant.file, (ROOT / mutant.file).read_text("utf-8")
        try:
            path.write_text(changed(source, mutant.nth), "utf-8")
            code = _in_a_child(run, self.tree, tests, limit_s=30 + 6 * sum(map(self.took.__getitem__, tests)))
        finally:
            path.write_text(source, "utf-8")
        return code != 0


def wilson(caught: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson, J. American Statistical Association 22 (1927) 209–212)."""
    z, share = 1.96, caught / of
    middle, reach = share + z * z / (2 * of), z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return (middle - reach) / (1 + z * z / of), (middle + reach) / (1 + z * z / of)


def campaign(how_many: int, seed: int, rooms: tuple[str, ...]) -> int:
    every = [mutant for room in rooms for path in sorted((ROOT / "kiosk" / "bar" / room).glob("*.py"))
             for mutant in mutants_of(str(path.relative_to(ROOT)))]
    chosen = Random(seed).sample(every, min(how_many, len(every)))
    bars = Bars(f"Mutants: {len(chosen)} of the {len(every)} changes that can be made to {', '.join(rooms)}")
    outcome: dict[str, list[bool]] = {}
    for room in rooms:
        with tempfile.TemporaryDirectory() as folder:
            runner = Runner(Path(folder), (f"tests/bar/{room}",))
            for mutant in (each for each in chosen if f"/bar/{room}/" in each.file):
                caught = runner.caught(mutant)
                outcome.setdefault(room, []).append(caught)
                if not caught:
                    print(f"       unnoticed: {mutant.file}:{mutant.line} in {mutant.within or 'the module'}: {mutant.what}", flush=True)
    for room, found in outcome.items():
        print(f"       {room}: {sum(found)} of {len(found)} caught")
    found = [each for of_room in outcome.values() for each in of_room]
    low, high = wilson(sum(found), len(found))
    bars.above(f"share caught ({low:.3f} to {high:.3f}, 95 %)", sum(found) / len(found), 0.85)
    return bars.end()


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("how_many", type=int, nargs="?", default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", action="append", choices=ROOMS)
    asked = parser.parse_args()
    raise SystemExit(campaign(asked.how_many, asked.seed, tuple(asked.room or ROOMS)))
