"""Mutation testing of the core: does a test fail when a rule is wrong?

`python scripts/mutants.py --each 40` breaks each module of the rooms in ROOMS at up to 40 places,
one at a time, and runs the tests that reach the place. cosmic-ray makes the mutants, a seed picks
them.

It is quick because nothing is imported twice. The tests are collected once. Each mutant is a fork
of that process in which the module's code and constants are exchanged. No file is touched.

Results go to `.mutants/results.jsonl` as they come; a second run goes on where the first stopped.
`--report` writes the tables of docs/mutation.md from them.
"""

import argparse
import ast
import json
import math
import os
import random
import signal
import sys
import time
import types
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cosmic_ray.plugins
import coverage
import pytest
from _pytest.runner import runtestprotocol
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import MutationVisitor

ROOT = Path(__file__).parents[1]
CORE = ROOT / "src" / "lowside" / "core"
ROOMS = ("judging", "advice", "session")
TESTS = ("tests/core/judging", "tests/core/advice", "tests/core/session")
WORK = ROOT / ".mutants"
ORDERS = ("Lt", "LtE", "Gt", "GtE")
SUMS = ("Add", "Sub", "Mul", "Div")
OPERATORS = (
    "AddNot",
    "NumberReplacer",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ReplaceFalseWithTrue",
    "ReplaceTrueWithFalse",
    "ReplaceUnaryOperator_Delete_Not",
    "ReplaceUnaryOperator_USub_UAdd",
    "ZeroIterationForLoop",
    "ReplaceComparisonOperator_Eq_NotEq",
    "ReplaceComparisonOperator_NotEq_Eq",
    "ReplaceComparisonOperator_Is_IsNot",
    "ReplaceComparisonOperator_IsNot_Is",
    *(f"ReplaceComparisonOperator_{a}_{b}" for a in ORDERS for b in ORDERS if a != b),
    *(f"ReplaceBinaryOperator_{a}_{b}" for a in SUMS for b in SUMS if a != b),
)
"""Those of cosmic-ray that make a rule wrong. The others make nonsense that fails at once, as `<<`
for `+`, and would make the share look better than it is."""
SLOWEST_S = 120.0
"""Tests of one mutant, the quick ones first, take at most so long without a mutant. Our choice.
With less (`--slowest`) fewer mutants are found, never more."""


@dataclass(frozen=True)
class Mutant:
    module: str
    """As judging/charge.py."""
    operator: str
    occurrence: int
    line: int

    def source(self) -> str | None:
        text = (CORE / self.module).read_text("utf-8")
        operator = cosmic_ray.plugins.get_operator("core/" + self.operator)()
        mutated: str | None = MutationVisitor.mutate_code(text, operator, self.occurrence)
        return mutated

    def key(self) -> tuple[str, str, int]:
        return self.module, self.operator, self.occurrence


def mutants_of(path: Path) -> list[Mutant]:
    """Every mutant of a module."""
    tree = get_ast(path.read_text("utf-8"))
    module = path.relative_to(CORE).as_posix()
    found = []
    for name in OPERATORS:
        operator = cosmic_ray.plugins.get_operator("core/" + name)()
        places = [place for node in ast_nodes(tree) for place in operator.mutation_positions(node)]
        found += [Mutant(module, name, n, place[0][0]) for n, place in enumerate(places)]
    return found


def sampled(each: int, seed: int, rooms: Sequence[str]) -> Iterator[Mutant]:
    """Up to `each` mutants of each module, one of each module in turn."""
    lots = []
    for room in rooms:
        for path in sorted((CORE / room).glob("*.py")):
            lot = mutants_of(path)
            random.Random(f"{seed} {path.name}").shuffle(lot)
            lots.append(lot[:each])
    for n in range(each):
        yield from (lot[n] for lot in lots if n < len(lot))


# Exchanging code


def exchange(mutant: Mutant, source: str) -> None:
    """Make the loaded module behave as the mutated source does."""
    name = "lowside.core." + mutant.module.removesuffix(".py").replace("/", ".")
    old = sys.modules[name]
    new = types.ModuleType(name)
    new.__file__ = old.__file__
    sys.modules[name] = new  # a dataclass looks for its module
    try:
        exec(compile(source, str(old.__file__), "exec"), new.__dict__)
    finally:
        sys.modules[name] = old
    touched = _names_at(mutant)
    for key, value in list(vars(new).items()):
        before = vars(old).get(key)
        is_code = isinstance(value, types.FunctionType | type)
        if is_code and value.__module__ != name:
            continue
        if isinstance(value, types.FunctionType) and isinstance(before, types.FunctionType):
            _exchange_function(before, value)
        elif isinstance(value, type) and isinstance(before, type):
            _exchange_class(before, value)
        elif not key.startswith("__") and (key in touched or _differs(before, value)):
            for module in list(sys.modules.values()):
                if getattr(module, "__name__", "").startswith("lowside") and (
                    vars(module).get(key) is before
                ):
                    setattr(module, key, value)


def _exchange_function(old: types.FunctionType, new: types.FunctionType) -> None:
    old.__code__ = new.__code__
    old.__defaults__ = new.__defaults__
    old.__kwdefaults__ = new.__kwdefaults__


def _exchange_class(old: type, new: type) -> None:
    for key, value in vars(new).items():
        before = vars(old).get(key)
        if isinstance(value, types.FunctionType) and isinstance(before, types.FunctionType):
            if key == "__init__" or value.__qualname__.startswith(new.__name__ + "."):
                _exchange_function(before, value)
        elif isinstance(value, property) and isinstance(before, property):
            _exchange_function(before.fget, value.fget)  # type: ignore[arg-type]
        elif not key.startswith("__") and _differs(before, value):
            setattr(old, key, value)


def _differs(one: object, other: object) -> bool:
    return _is_plain(one) and _is_plain(other) and (type(one), one) != (type(other), other)


def _is_plain(value: object) -> bool:
    if isinstance(value, tuple | frozenset | list):
        return all(map(_is_plain, value))
    if isinstance(value, dict):
        return all(_is_plain(each) for pair in value.items() for each in pair)
    return value is None or isinstance(value, int | float | str)


# Which tests reach a place


@lru_cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _span(node: ast.AST) -> range:
    first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))])  # type: ignore[attr-defined]
    return range(first, node.end_lineno + 1)  # type: ignore[attr-defined]


def _names_at(mutant: Mutant) -> set[str]:
    """What the top-level statement at the mutant's line binds."""
    for node in _tree(CORE / mutant.module).body:
        if mutant.line in _span(node):
            is_named = isinstance(node, ast.ClassDef | ast.FunctionDef)
            return {node.name} if is_named else _bound_by(node)  # type: ignore[attr-defined]
    return set()


def _bound_by(node: ast.AST) -> set[str]:
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and _is_store(n)}


def _is_store(node: ast.Name) -> bool:
    return isinstance(node.ctx, ast.Store)


def _function_lines(mutant: Mutant) -> range:
    """The lines of the body of the function around the mutant; empty outside of any."""
    for node in ast.walk(_tree(CORE / mutant.module)):
        if isinstance(node, ast.FunctionDef) and mutant.line in _span(node):
            return range(node.body[0].lineno, (node.end_lineno or 0) + 1)
    return range(0)


def _places_that_use(names: set[str]) -> Iterator[tuple[str, range]]:
    """Functions of the core that use one of these names, or a constant made from one."""
    known, more = set(names), True
    paths = sorted(CORE.rglob("*.py"))
    while more:
        more = False
        for path in paths:
            for node in _tree(path).body:
                if isinstance(node, ast.Assign | ast.AnnAssign) and _uses(node, known):
                    bound = {
                        n.id for n in ast.walk(node) if isinstance(n, ast.Name) and _is_store(n)
                    }
                    more = more or not bound <= known
                    known |= bound
    for path in paths:
        for node in ast.walk(_tree(path)):
            if isinstance(node, ast.FunctionDef) and _uses(node, known):
                yield str(path), range(node.body[0].lineno, (node.end_lineno or 0) + 1)


def _uses(node: ast.AST, names: set[str]) -> bool:
    return any(
        isinstance(n, ast.Name) and n.id in names and not _is_store(n) for n in ast.walk(node)
    )


@dataclass
class Baseline:
    """The tests without a mutant."""

    seconds: dict[str, float]
    failing: list[str]
    lines: dict[str, dict[str, list[str]]]
    """file -> line -> the tests that run it."""

    def tests_of(self, mutant: Mutant, slowest_s: float) -> list[str]:
        path = str(CORE / mutant.module)
        found = set(self.lines.get(path, {}).get(str(mutant.line), []))
        body = _function_lines(mutant)
        if mutant.line not in body or not found:
            places = [(path, body)] if len(body) > 0 else _places_that_use(_names_at(mutant))
            for file, span in places:
                known = self.lines.get(file, {})
                found.update(test for line in span for test in known.get(str(line), []))
        chosen, total = [], 0.0
        for test in sorted(found - set(self.failing), key=lambda t: self.seconds[t]):
            total += self.seconds[test]
            if total > slowest_s and chosen:
                break
            chosen.append(test)
        return chosen


# The run


class Hunt:
    """A plugin of pytest that runs the mutants instead of the tests."""

    def __init__(self, mutants: Sequence[Mutant], until: float, slowest_s: float) -> None:
        self.mutants = mutants
        self.until = until
        self.slowest_s = slowest_s

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        from lowside.library import load_handbook  # noqa: PLC0415

        load_handbook()
        items = {item.nodeid: item for item in session.items}
        for item in items.values():
            _without_shrinking(item)
        baseline = _baseline(items)
        print(f"{len(items)} tests, {sum(baseline.seconds.values()):.0f} s; "
              f"failing without a mutant: {baseline.failing}", flush=True)  # fmt: skip
        done = {(r["module"], r["operator"], r["occurrence"]) for r in results()}
        for mutant in self.mutants:
            if mutant.key() in done:
                continue
            if time.time() > self.until:
                print("The time is over.")
                break
            self._try(mutant, items, baseline)
        return True

    def _try(self, mutant: Mutant, items: dict[str, pytest.Item], baseline: Baseline) -> None:
        source = mutant.source()
        if source is None:
            return
        found = baseline.tests_of(mutant, self.slowest_s)
        tests = [items[test] for test in found if test in items]
        limit = 3.0 * sum(baseline.seconds[t.nodeid] for t in tests) + 60.0
        began = time.time()
        outcome = (
            _in_a_fork(lambda: _survives(mutant, source, tests), limit) if tests else "no test"
        )
        before = (CORE / mutant.module).read_text("utf-8").split("\n")
        after = source.split("\n")
        n = next((n for n, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), 0)
        result = asdict(mutant) | {
            "outcome": outcome,
            "tests": len(tests),
            "seconds": round(time.time() - began, 1),
            "was": before[n].strip(),
            "is": after[n].strip(),
        }
        WORK.mkdir(exist_ok=True)
        with (WORK / "results.jsonl").open("a", encoding="utf-8") as out:
            out.write(json.dumps(result, ensure_ascii=False) + "\n")


def _survives(mutant: Mutant, source: str, tests: Sequence[pytest.Item]) -> str:
    try:
        exchange(mutant, source)
    except Exception:  # noqa: BLE001  any failure at import is noticed by every test
        return "killed"
    for item in tests:
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=None)):
            return "killed"
    return "survived"


def _in_a_fork(act: Any, limit_s: float) -> str:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            null = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(null, stream)
            os.write(writing, str(act()).encode())
        finally:
            os._exit(0)
    os.close(writing)
    give_up = time.time() + limit_s
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        if time.time() > give_up:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            os.close(reading)
            return "timeout"
        time.sleep(0.02)
    with os.fdopen(reading, "rb") as said:
        return said.read().decode() or "killed"  # the mutant ended its process


def _without_shrinking(item: pytest.Item) -> None:
    """A mutant that is found is enough; nobody needs the smallest example."""
    from hypothesis import Phase, settings  # noqa: PLC0415  after pytest has begun

    test = getattr(item, "obj", None)
    test = getattr(test, "__func__", test)
    known = getattr(test, "_hypothesis_internal_use_settings", None)
    if known is not None:
        quick = settings(known, phases=(Phase.explicit, Phase.generate), database=None)
        test._hypothesis_internal_use_settings = quick  # type: ignore[union-attr]


def _baseline(items: dict[str, pytest.Item]) -> Baseline:
    """Run every test once under coverage, in a fork; kept for the next run."""
    kept = WORK / "baseline.json"
    if not kept.exists():
        WORK.mkdir(exist_ok=True)
        said = _in_a_fork(lambda: _measure(items, kept), 3600.0)
        if said != "measured":
            raise SystemExit(f"The tests could not be measured: {said}")
    return Baseline(**json.loads(kept.read_text("utf-8")))


def _measure(items: dict[str, pytest.Item], out: Path) -> str:
    measuring = coverage.Coverage(data_file=None, config_file=False, include=[str(CORE / "*")])
    seconds, failing = {}, []
    measuring.start()
    for name, item in items.items():
        measuring.switch_context(name)
        began = time.time()
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=None)):
            failing.append(name)
        seconds[name] = time.time() - began
    measuring.stop()
    data = measuring.get_data()
    lines = {
        file: {
            str(line): [test for test in tests if test]
            for line, tests in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    out.write_text(json.dumps({"seconds": seconds, "failing": failing, "lines": lines}), "utf-8")
    return "measured"


# The report


def results() -> list[dict[str, Any]]:
    """What was tried so far, the last word on each mutant."""
    kept = WORK / "results.jsonl"
    if not kept.exists():
        return []
    found = [json.loads(line) for line in kept.read_text("utf-8").splitlines()]
    return list({(r["module"], r["operator"], r["occurrence"]): r for r in found}.values())


def interval(killed: int, tried: int) -> tuple[float, float]:
    """Wilson's interval of a share, 95 %."""
    z, share = 1.96, killed / tried
    middle = share + z * z / (2 * tried)
    wide = z * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    return (middle - wide) / (1 + z * z / tried), (middle + wide) / (1 + z * z / tried)


def report() -> None:
    """The table by module, and the survivors."""
    found = results()
    print("| module | mutants | tried | killed | share | 95 % |\n|---|---|---|---|---|---|")
    for room in ROOMS:
        weighed, variance, everything = 0.0, 0.0, 0
        rows = []
        for path in sorted((CORE / room).glob("*.py")):
            module, count = f"{room}/{path.name}", len(mutants_of(path))
            tried = [r for r in found if r["module"] == module]
            if not tried:
                continue
            killed = sum(r["outcome"] in ("killed", "timeout") for r in tried)
            low, high = interval(killed, len(tried))
            share = killed / len(tried)
            everything += count
            weighed += share * count
            unseen = 1.0 - len(tried) / count
            variance += count * count * unseen * share * (1.0 - share) / len(tried)
            rows.append(f"| {module} | {count} | {len(tried)} | {killed} | {share:.0%} | "
                        f"{low:.0%} to {high:.0%} |")  # fmt: skip
        if rows:
            wide = 1.96 * math.sqrt(variance) / everything
            total = weighed / everything
            rows.append(f"| **{room}**, weighed by size | {everything} | | | **{total:.1%}** | "
                        f"± {wide:.1%} |")  # fmt: skip
        print("\n".join(rows))
    print("\n```text")
    for r in sorted(found, key=lambda r: (r["module"], r["line"])):
        if r["outcome"] not in ("killed", "timeout"):
            print(f"{r['module']}:{r['line']}  {r['was']}\n    became  {r['is']}")
    print("```")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=40, help="mutants of each module at most")
    parser.add_argument("--seed", type=int, default=20261128)
    parser.add_argument("--rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument(
        "--slowest", type=float, default=SLOWEST_S, help="seconds of tests for one mutant at most"
    )
    parser.add_argument("--report", action="store_true", help="print the tables and stop")
    parser.add_argument("--again", action="store_true", help="try only the survivors again")
    parser.add_argument("--tests", nargs="*", default=list(TESTS), help="files or folders of tests")
    chosen = parser.parse_args()
    if chosen.report:
        report()
        return
    os.environ["CI"] = "1"  # the same generated cases for each mutant
    mutants = list(sampled(chosen.each, chosen.seed, chosen.rooms))
    if chosen.again:
        tried = {(r["module"], r["operator"], r["occurrence"]): r["outcome"] for r in results()}
        left = {key for key, outcome in tried.items() if outcome not in ("killed", "timeout")}
        mutants = [mutant for mutant in mutants if mutant.key() in left]
        rest = [r for r in results() if r["outcome"] in ("killed", "timeout")]
        lines = [json.dumps(r, ensure_ascii=False) + "\n" for r in rest]
        (WORK / "results.jsonl").write_text("".join(lines), "utf-8")
        (WORK / "baseline.json").unlink(missing_ok=True)
    hunt = Hunt(mutants, time.time() + 60.0 * chosen.minutes, chosen.slowest)
    tests = [str(ROOT / place) for place in chosen.tests]
    sys.exit(pytest.main(["-p", "no:cacheprovider", *tests], plugins=[hunt]))


if __name__ == "__main__":
    main()
