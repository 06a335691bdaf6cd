"""The share of small mistakes in the handbook that its tests find (mutation testing), by module.

The mistakes are mutmut's: its operators, one at a time, in every function and method. mutmut itself leaves out what has
a decorator, so all formulas; here the body and the defaults of a loaded function are exchanged in a forked process,
under its decorator, and the tests that run its line follow, quickest first, until one fails or the time is up (three
times what they took, and 2 s).

Of prose (text of several words, and all text in a ``raise``) a change of case stands for all changes, and counts only
where the text carries a figure or a sentence of what would be right; ``XX`` around it does not count. What runs only
while a module is imported, and the making of the registry of units, is found by none here.

Needs ``pip install mutmut coverage``, which no lock has. Run: ``python benchmarks/mutants.py [--one-in N] [FILE ...]``;
it prints what lives as it is found, then the shares. There are 12 000 mistakes; one in six take about 20 minutes.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import gc
import importlib
import io
import os
import pickle
import random
import resource
import signal
import sys
import tempfile
import textwrap
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from typing import Any

import coverage
import libcst as cst
import pytest
from _pytest.runner import runtestprotocol
from libcst.metadata import MetadataWrapper, ParentNodeProvider, PositionProvider
from mutmut.mutation.file_mutation import MutationVisitor, OuterFunctionProvider
from mutmut.mutation.mutators import mutation_operators
from mutmut.mutation.pragma_handling import IgnoredCode

from knowngood.handbook import quantities
from knowngood.handbook.formula import Formula

ROOT = Path(__file__).parents[1]
HANDBOOK = ROOT / "src" / "knowngood" / "handbook"
PUBLISHED = ["failure_modes", "human_error", "intervals", "uncertainty", "handbook*"]
SECONDS = 2


@dataclass(frozen=True)
class Mutant:
    """One mistake: the source of a function with it, and where it is."""

    file: Path
    path: str
    """Names from the module down to the function."""
    source: str
    line: int
    lines: range
    """Of its statement."""
    old: str
    new: str
    counts: bool


class Operators(MutationVisitor):
    """mutmut's visitor, which also enters functions under a decorator, and remembers where it was."""

    METADATA_DEPENDENCIES = (PositionProvider, OuterFunctionProvider, ParentNodeProvider)

    def __init__(self) -> None:
        super().__init__(mutation_operators, IgnoredCode(set(), set(), set()))

    def _skip_node_and_children(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.FunctionDef) and node.decorators:
            return False
        return bool(super()._skip_node_and_children(node))


def mutants(file: Path, one_in: int) -> Iterator[Mutant]:
    """The mistakes of a file, or one in so many drawn with a fixed seed."""
    draw = random.Random(str(file.relative_to(HANDBOOK)))
    wrapper = MetadataWrapper(cst.parse_module(file.read_text(encoding="utf-8")))
    visitor = Operators()
    wrapper.visit(visitor)
    parents, places = wrapper.resolve(ParentNodeProvider), wrapper.resolve(PositionProvider)
    for mutation in visitor.mutations:
        node, function = mutation.original_node, mutation.contained_by_top_level_function
        if not isinstance(function, cst.FunctionDef) or node is function or draw.random() * one_in >= 1:
            continue
        names = [function.name.value]
        above: list[cst.CSTNode] = []
        at: cst.CSTNode = node
        while not isinstance(at, cst.Module):
            at = parents[at]
            above.append(at)
        names += [one.name.value for one in above[above.index(function) + 1 :] if isinstance(one, cst.ClassDef)]
        inside = above[: above.index(function)]
        head = any(isinstance(one, cst.Parameters) for one in inside)
        whole = next((one for one in inside if isinstance(one, cst.SimpleStatementLine)), node)
        place = places[function.body if head else whole]
        mutated = function.deep_replace(node, mutation.mutated_node)
        assert isinstance(mutated, cst.FunctionDef)
        source = wrapper.module.code_for_node(mutated.with_changes(decorators=(), leading_lines=()))
        yield Mutant(
            file,
            ".".join(reversed(names)),
            textwrap.dedent(source),
            places[node].start.line,
            range(place.start.line, place.end.line + 1),
            wrapper.module.code_for_node(node),
            wrapper.module.code_for_node(mutation.mutated_node),
            counts(node, mutation.mutated_node, above),
        )


def counts(node: cst.CSTNode, mutated: cst.CSTNode, above: list[cst.CSTNode]) -> bool:
    """Whether a test that reads words, not their every letter, should find it."""
    if not isinstance(node, cst.SimpleString) or not isinstance(mutated, cst.SimpleString):
        return True
    text = str(node.evaluated_value)
    if " " not in text.strip() and not any(isinstance(one, cst.Raise) for one in above):
        return True
    way_out = any(sign in text for sign in (". ", "; ")) or text[:1].isupper()
    return "XX" not in mutated.value and (way_out or any(letter.isdigit() for letter in text))


def function_of(module: Any, path: str) -> FunctionType:
    """The plain function under whatever decorates it."""
    found = module
    for name in path.split("."):
        found = vars(found)[name]
    while not isinstance(found, FunctionType):
        for inner in ("function", "__wrapped__", "fget", "func", "__func__"):
            if hasattr(found, inner):
                found = getattr(found, inner)
                break
        else:
            raise TypeError(f"{path} is no function")
    return found


def exchange(mutant: Mutant) -> None:
    """Puts the mistake into the loaded function and forgets what was computed before."""
    module = importlib.import_module(module_name(mutant.file))
    names: dict[str, Any] = {}
    code = compile("from __future__ import annotations\n" + mutant.source, str(mutant.file), "exec")
    exec(code, vars(module), names)
    wrong, right = names[mutant.path.rpartition(".")[2]], function_of(module, mutant.path)
    right.__code__ = wrong.__code__
    right.__defaults__, right.__kwdefaults__ = wrong.__defaults__, wrong.__kwdefaults__
    forget()
    if mutant.path == "_registry":
        quantities._registry.cache_clear()


def forget() -> None:
    """Empties what the book keeps once computed, so that a test runs all it rests on. Not the units: they take long."""
    for name, loaded in list(sys.modules.items()):
        if name.startswith("knowngood.handbook"):
            for value in list(vars(loaded).values()):
                if isinstance(value, Formula):
                    for cached in ("signature", "types", "page"):
                        vars(value).pop(cached, None)
                elif isinstance(value, functools._lru_cache_wrapper) and value is not quantities._registry:
                    value.cache_clear()


def module_name(file: Path) -> str:
    parts = file.relative_to(ROOT / "src").with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


class Runner:
    """In place of pytest's own loop over the tests collected."""

    def __init__(self, files: list[Path], one_in: int) -> None:
        self.files, self.one_in = files, one_in
        self.found: Counter[Path] = Counter()
        self.all: Counter[Path] = Counter()

    def pytest_collection(self) -> None:
        # Not at the top: pytest warns of plugins that were imported before it.
        from hypothesis import Phase, settings

        found = settings(derandomize=True, database=None, deadline=None, phases=[Phase.explicit, Phase.generate])
        settings.register_profile("mutants", found)
        settings.load_profile("mutants")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        quantities.parse_quantity("1 inch", "m")
        gc.collect()
        gc.freeze()
        lines, took = self.lines(session.items)
        items = {item.nodeid: item for item in session.items}
        for file in self.files:
            for mutant in mutants(file, self.one_in):
                tests = {test for line in mutant.lines for test in lines[str(file)].get(line, ())} & set(items)
                chosen = sorted(tests, key=lambda test: took[test])
                fate = self.fate(mutant, [items[test] for test in chosen], 3 * sum(took[one] for one in chosen))
                self.tell(mutant, fate, len(chosen))
        return True

    def lines(self, items: list[pytest.Item]) -> tuple[dict[str, dict[int, list[str]]], dict[str, float]]:
        """The tests that run each line, and how long each takes."""
        with tempfile.TemporaryDirectory() as folder:
            answer = Path(folder) / "lines"
            if (child := os.fork()) == 0:
                found: dict[str, dict[int, list[str]]] = {}
                took: dict[str, float] = {}
                watch = coverage.Coverage(data_file=None, source=[str(HANDBOOK)], config_file=False)
                watch.start()
                for item in items:
                    forget()
                    watch.switch_context(item.nodeid)
                    start = time.process_time()
                    if failed(item):
                        sys.exit(f"{item.nodeid} fails without any mistake")
                    took[item.nodeid] = time.process_time() - start
                watch.stop()
                data = watch.get_data()
                for file in data.measured_files():
                    found[file] = data.contexts_by_lineno(file)
                answer.write_bytes(pickle.dumps((found, took)))
                os._exit(0)
            os.waitpid(child, 0)
            seen, took = pickle.loads(answer.read_bytes())
            return defaultdict(dict, seen), took

    def fate(self, mutant: Mutant, items: list[pytest.Item], seconds: float) -> str:
        """ "found", "slow" (found by time) or "lives"."""
        if not items:
            return "lives"
        sys.stdout.flush()
        if (child := os.fork()) == 0:
            signal.setitimer(signal.ITIMER_PROF, seconds + SECONDS)
            resource.setrlimit(resource.RLIMIT_AS, (6 * 2**30,) * 2)
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
            code = 1
            try:
                exchange(mutant)
                code = int(any(failed(item) for item in items))
            finally:
                os._exit(code)
        status = os.waitpid(child, 0)[1]
        if os.WIFSIGNALED(status):
            return "slow" if os.WTERMSIG(status) == signal.SIGPROF else "found"
        return "found" if os.WEXITSTATUS(status) else "lives"

    def tell(self, mutant: Mutant, fate: str, tests: int) -> None:
        if mutant.counts:
            self.all[mutant.file] += 1
            self.found[mutant.file] += fate != "lives"
        if fate == "lives":
            where = f"{mutant.file.relative_to(HANDBOOK)}:{mutant.line}"
            old, new = (" ".join(one.split()) for one in (mutant.old, mutant.new))
            print(f"{where} {mutant.path} ({tests} tests{'' if mutant.counts else ', not counted'}): {old} -> {new}")

    def table(self) -> Iterator[str]:
        for file in self.files:
            if self.all[file]:
                yield f"{self.found[file] / self.all[file]:6.1%} of {self.all[file]:5}  {file.relative_to(HANDBOOK)}"
        yield f"{self.found.total() / max(1, self.all.total()):6.1%} of {self.all.total():5}  found"


def failed(item: pytest.Item) -> bool:
    with contextlib.redirect_stdout(io.StringIO()):
        return any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("files", nargs="*", help="of src/knowngood/handbook; all if none")
    parser.add_argument("--one-in", type=int, default=1, metavar="N", help="draw one mistake in N")
    given = parser.parse_args()
    files = [HANDBOOK / one for one in given.files] or sorted(HANDBOOK.rglob("*.py"))
    tests = ROOT / "tests"
    named = [str(one) for name in PUBLISHED for one in sorted((tests / "published").glob(f"test_{name}.py"))]
    runner = Runner(files, given.one_in)
    code = pytest.main(
        ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--capture=no", str(tests / "handbook"), *named],
        plugins=[runner],
    )
    print("\n".join(runner.table()))
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
