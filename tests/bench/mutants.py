"""What the tests would not notice: `python -m tests.bench.mutants [HOW_MANY] [--seed N] [--room ROOM] [--all]`.

One thing at a time is changed in the source of a room of the bar, and the tests that come by the changed line are run on it, the
cheapest first, until one fails. The changes ("operators"):

    compare              < ≤, > ≥, == !=, is, in: each to its neighbour or its opposite
    reverse              < to >, ≤ to ≥ and back
    reckon               + to −, × to ÷ and back; ** , // and % to ×
    and/or               one for the other
    drop the sign        `not x` and `−x` to x
    turn the condition   of an if, a while, a choice
    turn                 True to False and back
    more                 a whole number + 1, any other × 1.5
    the other end        min to max, any to all and back
    leave out            a call made for what it does, a += or its kin
    return nothing       None in place of what is returned

Docstrings, messages' words, annotations, imports and decorators are left alone, and what comes to the same bytecode is no change.
The tests are those of `tests/bar` for the three rooms: pure ones (no files, so no screens) of at most `LONGEST_S` each, `IN_ALL_S`
together, so that what is said to be caught is caught by a quick test; one that fails now and then on the source as it stands is
left out. A change that runs out of time or memory is caught. A draw
takes of each room its share of all changes. Survivors that nobody could tell from the source as it stands are judged one by one in
`mutants_judged.toml`, each with its reason, and not tried again (but with `--all`): they count among those drawn, not as caught.
It takes one process at a time, and gives way to everybody else.
"""

import argparse
import ast
import copy
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import os
import pickle
import resource
import signal
import sys
import time
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from itertools import accumulate
from math import ceil, sqrt
from pathlib import Path
from random import Random
from types import CodeType, FunctionType
from typing import Any

import hypothesis
import pytest
from coverage import Coverage

from tests.bench.bars import Bars

ROOT = Path(__file__).parents[2]
ROOMS = ("guide", "weighing", "drift")
TESTS = tuple(f"tests/bar/{room}" for room in ROOMS)
JUDGED = Path(__file__).with_name("mutants_judged.toml")
LONGEST_S = 2.0                 # of processor time, listened to: a longer test is left out,
IN_ALL_S = 10.0                 # and so are those, of what come by a line, that would take longer together
MEMORY = 4 << 30
AT_LEAST_S = 5.0                # of processor time, before a change is said never to end; and five times what its tests take
COMPARED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
            ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In}
REVERSED = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
RECKONED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Mult,
            ast.Mod: ast.Mult}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
QUIET = ["-q", "-s", "-p", "no:cacheprovider", "-p", "no:faulthandler"]


# ---- the changes


@dataclass(frozen=True)
class Place:
    """Something that can be changed: `how`, in the function or class `within`, in a statement that spans `lines`."""

    node: ast.AST
    how: str
    within: str
    lines: range
    put: Callable[[ast.AST], None]      # another node in its stead


def places(tree: ast.Module) -> Iterator[Place]:
    """Every place that can be changed, in an order that does not change."""
    yield from _inside(tree, "", range(0))


def _inside(node: ast.AST, within: str, lines: range) -> Iterator[Place]:
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for n, child in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(child, ast.AST) or _says_nothing(child):
                continue
            here = within
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                here = f"{within}.{child.name}" if within else child.name
            its = _span(child) if isinstance(child, ast.stmt) else lines
            for how in _ways(child, node):
                yield Place(child, how, here, its, partial(value.__setitem__, n) if isinstance(value, list)
                            else partial(setattr, node, name))
            yield from _inside(child, here, its)


def _span(statement: ast.stmt) -> range:
    """Its lines, without those of the block below it."""
    below = [part.lineno for part in getattr(statement, "body", ())] or [case.pattern.lineno
        for case in getattr(statement, "cases", ())]
    return range(statement.lineno, min(below, default=statement.end_lineno + 1) if below else statement.end_lineno + 1)


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


def changed(source: str, nth: int) -> ast.Module:
    """The source's tree with the change at its `nth` place made."""
    tree = ast.parse(source)
    place = next(each for n, each in enumerate(places(tree)) if n == nth)
    place.put(_made(place.node, place.how))
    return ast.fix_missing_locations(tree)


@dataclass(frozen=True)
class Mutant:
    """The change at the `nth` place of `file`. `key` names it for as long as the code there is the same."""

    file: str
    nth: int
    lines: range
    key: str

    @property
    def room(self) -> str:
        return Path(self.file).parent.name

    @property
    def line(self) -> int:
        return self.lines.start


def mutants_of(file: str) -> list[Mutant]:
    seen: Counter[str] = Counter()
    found = []
    for nth, place in enumerate(places(_tree(file))):
        what = (f"{_module(file)}.{place.within or '*'}: {place.how}: {_short(place.node)} → "
                f"{_short(_made(place.node, place.how))}")
        seen[what] += 1
        lines = range(place.node.lineno, place.node.end_lineno + 1) if isinstance(place.node, ast.expr) else place.lines
        found.append(Mutant(file, nth, lines, what if seen[what] == 1 else f"{what} ({seen[what]})"))
    return found


def _short(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0][:70]


def _module(file: str) -> str:
    return file.removesuffix(".py").replace("/", ".")


@cache
def _source(file: str) -> str:
    return (ROOT / file).read_text("utf-8")


@cache
def _tree(file: str) -> ast.Module:
    return ast.parse(_source(file))


@cache
def _code(file: str) -> CodeType:
    return compile(_tree(file), str(ROOT / file), "exec")


def _code_of(mutant: Mutant) -> CodeType:
    return compile(changed(_source(mutant.file), mutant.nth), str(ROOT / mutant.file), "exec")


def _sense(code: CodeType, functions: dict[tuple[str, int], CodeType] | None = None) -> tuple:
    """What the code does, whatever its lines; with `functions` given, its outermost functions go there instead."""
    parts = []
    for each in code.co_consts:
        if not isinstance(each, CodeType):
            parts.append((type(each).__name__, repr(each)))
        # optimized, new locals: no class
        elif functions is not None and "<locals>" not in each.co_qualname and each.co_flags & 3:
            functions[each.co_qualname, each.co_firstlineno] = each
        else:
            parts.append(_sense(each, functions))
    return (code.co_code, code.co_names, code.co_varnames, code.co_freevars, code.co_cellvars, code.co_argcount,
            code.co_kwonlyargcount, tuple(parts))


def is_a_change(mutant: Mutant) -> bool:
    """Whether its bytecode differs from the source's."""
    return _sense(_code_of(mutant)) != _sense(_code(mutant.file))


@cache
def functions_changed(mutant: Mutant) -> list[tuple[CodeType, CodeType]] | None:
    """(code as it stands, code as changed) of the functions it lies in; None for one outside of any."""
    old: dict[tuple[str, int], CodeType] = {}
    new: dict[tuple[str, int], CodeType] = {}
    if _sense(_code(mutant.file), old) != _sense(_code_of(mutant), new) or old.keys() != new.keys():
        return None
    return [(old[at], new[at]) for at in old if _sense(old[at]) != _sense(new[at])]


def lines_by(mutant: Mutant) -> dict[str, set[int]]:
    """file → the lines where its change shows: its own in a function, else those that use the names it gives a value."""
    if functions_changed(mutant) is not None:
        return {mutant.file: set(mutant.lines)}
    at = [statement for statement in _tree(mutant.file).body if statement.lineno <= mutant.line <= statement.end_lineno]
    if not isinstance(at[0], ast.Assign | ast.AnnAssign):
        return {mutant.file: set(range(1, _source(mutant.file).count("\n") + 1))}       # a field's default, an argument's
    names, known = _given(at[0]), set()
    found: dict[str, set[int]] = {}
    while names - known:
        name = (names - known).pop()
        known.add(name)
        for file in _files(ROOMS):
            for statement in _tree(file).body:
                used = {node.lineno for node in ast.walk(statement) if isinstance(node, ast.Name | ast.Attribute)
                        and isinstance(node.ctx, ast.Load) and name == getattr(node, "id", getattr(node, "attr", ""))}
                if used and isinstance(statement, ast.Assign | ast.AnnAssign):
                    names |= _given(statement)
                found.setdefault(file, set()).update(used)
    return found


def _given(statement: ast.Assign | ast.AnnAssign) -> set[str]:
    return {node.id for node in ast.walk(statement) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}


# ---- in processes of their own


def in_a_child(then: Callable[[], Any], limit_s: float | None = None) -> Any:
    """What `then()` comes to in a process that begins with what is loaded here; None where it ends without an answer, or has
    taken more than `limit_s` of the processor."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ours)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
            if limit_s is not None:
                resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
                signal.signal(signal.SIGPROF, signal.SIG_DFL)
                signal.setitimer(signal.ITIMER_PROF, limit_s)
            answer = pickle.dumps(then())
            with os.fdopen(theirs, "wb") as pipe:
                pipe.write(answer)
        finally:
            os._exit(0)
    os.close(theirs)
    with os.fdopen(ours, "rb") as pipe:
        answer = pipe.read()
    os.waitpid(child, 0)
    return pickle.loads(answer) if answer else None


@dataclass(frozen=True)
class Passes:
    """Which tests come by each line of each file, and the processor's seconds that each takes."""

    by: dict[str, dict[int, set[str]]]
    took_s: dict[str, float]
    failed: tuple[str, ...]

    def tests(self, mutant: Mutant) -> list[str]:
        """Those that come by where its change shows, the cheapest first."""
        found = set().union(*(self.by.get(file, {}).get(line, ()) for file, lines in lines_by(mutant).items() for line in lines))
        if functions_changed(mutant) is None:           # a test that comes by no line at all may look at a constant
            found |= self.took_s.keys() - {test for lines in self.by.values() for tests in lines.values() for test in tests}
        tests = sorted((test for test in found if test in self.took_s), key=self.took_s.__getitem__)
        so_far_s = list(accumulate(self.took_s[test] for test in tests))
        return [test for test, each_s in zip(tests, so_far_s) if each_s <= IN_ALL_S]


class _Loop:
    """A pytest plugin that hands the collected tests to `then` in place of running them."""

    def __init__(self, then: Callable[[dict[str, pytest.Item]], Any]):
        self._then, self.answer = then, None

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.answer = self._then({item.nodeid: item for item in session.items if "tmp_path" not in item.fixturenames})
        return True


class _Failed:
    def __init__(self):
        self.any = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.any = self.any or report.failed


def with_tests(then: Callable[[dict[str, pytest.Item]], Any], files: list[str]) -> Any:
    """What `then` makes of the tests in those files, all collected."""
    os.chdir(ROOT)
    for name in [name for name in sys.modules if name.split(".")[0] in ("kiosk", "hardware", "tests") and name != __name__]:
        del sys.modules[name]
    hypothesis.settings.register_profile("mutants", deadline=None, derandomize=True, database=None,
                                         phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
                                         suppress_health_check=list(hypothesis.HealthCheck))
    hypothesis.settings.load_profile("mutants")
    loop = _Loop(then)
    pytest.main([*QUIET, *files], plugins=[loop])
    return loop.answer


def _fails(item: pytest.Item) -> bool:
    failed = _Failed()
    item.config.pluginmanager.register(failed)
    item.ihook.pytest_runtest_protocol(item=item, nextitem=None)
    item.config.pluginmanager.unregister(failed)
    return failed.any


def _too_long(_signal: int, _frame: Any) -> None:
    raise TimeoutError("left out")


def _passes(items: dict[str, pytest.Item]) -> Passes:
    """Run every test as the source stands, listening to which lines it comes by."""
    watch = Coverage(data_file=None, config_file=False, include=[str(ROOT / "kiosk" / "bar" / "*")], messages=False)
    took_s, failed = {}, []
    signal.signal(signal.SIGPROF, _too_long)
    watch.start()
    for name, item in items.items():
        watch.switch_context(name)
        began = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
        fails = _fails(item)
        over = signal.setitimer(signal.ITIMER_PROF, 0)[0] == 0
        watch.switch_context("")
        if fails and not over and _fails(item):         # once more, unheard: one that fails now and then tells nothing
            failed.append(name)
        if not over and not fails:
            took_s[name] = time.process_time() - began
    watch.stop()
    data = watch.get_data()
    by = {str(Path(file).relative_to(ROOT)): {line: {each for each in tests if each} for line,
                                              tests in data.contexts_by_lineno(file).items()}
          for file in data.measured_files()}
    return Passes(by, took_s, tuple(failed))


def _any_fails(items: dict[str, pytest.Item], tests: list[str]) -> str | None:
    """The first of the tests that fails, by name; "" where none does."""
    return next((name for name in tests if name not in items or _fails(items[name])), "")


def _swapped(items: dict[str, pytest.Item], tests: list[str], codes: list[tuple[CodeType, CodeType]],
             loaded: dict[tuple[str, CodeType], list[FunctionType]]) -> str:
    """The same, the code changed under the functions that are `loaded`."""
    for old, new in codes:
        for function in loaded[old.co_filename, old]:
            function.__code__ = new
    return _any_fails(items, tests)


def _loaded() -> dict[tuple[str, CodeType], list[FunctionType]]:
    """Every function, by its file and code. What is loaded by now is left alone by the collector, and so shared by all trials."""
    found = defaultdict(list)
    for each in gc.get_objects():
        if type(each) is FunctionType:       # nothing is asked of a dead weak reference, such as a screen leaves
            found[each.__code__.co_filename, each.__code__].append(each)
    gc.freeze()
    return found


class _Changed(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Imports one module with its change made."""

    def __init__(self, mutant: Mutant):
        super().__init__(_module(mutant.file), str(ROOT / mutant.file))
        self._code = _code_of(mutant)

    def find_spec(self, fullname, path=None, target=None):
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self) if fullname == self.name else None

    def get_code(self, fullname):
        return self._code


def _anew(mutant: Mutant, tests: list[str]) -> str:
    """The same, with everything imported anew: for a change outside of functions."""
    sys.meta_path.insert(0, _Changed(mutant))
    files = list(dict.fromkeys(test.partition("::")[0] for test in tests))
    return with_tests(lambda items: _any_fails(items, tests), files)


def _tried(mutant: Mutant, passes: Passes, trial: Callable[[list[str]], str]) -> str | None:
    """What caught it, None where nothing did."""
    tests = passes.tests(mutant)
    if not tests:
        return None
    limit_s = AT_LEAST_S + 5 * sum(passes.took_s[test] for test in tests)
    found = in_a_child(lambda: trial(tests), limit_s)
    return "it never ended, or broke off" if found is None else found or None


def caught(mutants: list[Mutant], files: tuple[str, ...], tell: Callable[[Mutant, str | None], None] = lambda mutant,
           by: None) -> dict[Mutant, str | None]:
    """What caught each (None: nothing); `tell` hears of each as it is tried. Raises RuntimeError where a test fails as it is."""
    found: dict[Mutant, str | None] = {}
    anew = [mutant for mutant in mutants if functions_changed(mutant) is None]

    def loop(items: dict[str, pytest.Item]) -> tuple[Passes, dict[Mutant, str | None]]:
        passes = in_a_child(lambda: _passes(items))
        if passes is None or passes.failed:
            raise RuntimeError(f"tests fail as they stand: {' '.join(passes.failed) if passes else files}")
        loaded = _loaded()
        for mutant in mutants:
            codes = functions_changed(mutant)
            if codes is not None:
                found[mutant] = _tried(mutant, passes, lambda tests: _swapped(items, tests, codes, loaded))
                tell(mutant, found[mutant])
        return passes, found

    answer = with_tests(loop, list(files))
    if answer is None:
        raise RuntimeError("the tests could not be run")
    for mutant in anew:
        found[mutant] = _tried(mutant, answer[0], lambda tests: _anew(mutant, tests))
        tell(mutant, found[mutant])
    return found


# ---- a campaign


def _files(rooms: tuple[str, ...]) -> list[str]:
    return [str(path.relative_to(ROOT)) for room in rooms for path in sorted((ROOT / "kiosk" / "bar" / room).glob("*.py"))]


def draw(how_many: int, seed: int, rooms: tuple[str, ...]) -> tuple[list[Mutant], int]:
    """A seeded draw of changes, of each room its share of all, and how many there are in all."""
    every = {room: [mutant for file in _files((room,)) for mutant in mutants_of(file)] for room in rooms}
    in_all = sum(map(len, every.values()))
    drawn: list[Mutant] = []
    for room, mutants in every.items():
        Random(f"{seed} {room}").shuffle(mutants)
        share = ceil(how_many * len(mutants) / in_all)
        real = (mutant for mutant in mutants if is_a_change(mutant))
        drawn += [mutant for _, mutant in zip(range(min(share, how_many - len(drawn))), real)]
    return drawn, in_all


def judged() -> dict[str, str]:
    """Changes that nobody could tell from the source as it stands, each with its reason."""
    return tomllib.loads(JUDGED.read_text("utf-8"))


def wilson(hits: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson, J. American Statistical Association 22 (1927) 209–212)."""
    z, share = 1.96, hits / of
    middle, reach = share + z * z / (2 * of), z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return (middle - reach) / (1 + z * z / of), (middle + reach) / (1 + z * z / of)


def campaign(how_many: int, seed: int, rooms: tuple[str, ...], every: bool) -> int:
    drawn, in_all = draw(how_many, seed, rooms)
    equal = {} if every else judged()
    bars = Bars(f"Mutants: {len(drawn)} of the {in_all} changes that can be made to {', '.join(rooms)} (seed {seed})")

    def tell(mutant: Mutant, by: str | None) -> None:
        if by is None:
            print(f"       not caught: {mutant.file}:{mutant.line}  {mutant.key}", flush=True)

    found = caught([mutant for mutant in drawn if mutant.key not in equal], TESTS, tell)
    for room in rooms:
        here = [mutant for mutant in drawn if mutant.room == room]
        hits = sum(found.get(mutant) is not None for mutant in here)
        same = sum(mutant not in found for mutant in here)
        print(f"       {room}: {hits} of {len(here)} caught, {same} judged equal, {len(here) - hits - same} not caught")
    hits, same = sum(by is not None for by in found.values()), len(drawn) - len(found)
    low, high = wilson(hits, len(drawn))
    print(f"       caught {hits}, judged equal {same}, not caught {len(found) - hits}")
    bars.above(f"share caught of all drawn, those judged equal among them ({low:.3f} to {high:.3f}, 95 %)", hits / len(drawn),
               0.85)
    low, high = wilson(hits, len(found))
    bars.above(f"share caught of those not judged equal ({low:.3f} to {high:.3f}, 95 %)", hits / len(found), 0.85)
    return bars.end()


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("how_many", type=int, nargs="?", default=400)
    parser.add_argument("--seed", type=int, default=2)      # the tests were written on what those of seed 1 let through
    parser.add_argument("--room", action="append", choices=ROOMS)
    parser.add_argument("--all", action="store_true", help="try those judged equal too")
    asked = parser.parse_args()
    os.nice(max(0, 15 - os.nice(0)))
    raise SystemExit(campaign(asked.how_many, asked.seed, tuple(asked.room or ROOMS), asked.all))
