"""
Benchmarks against the promised budgets: `python -m tests.benchmarks NAME…`, all of them without a name.

A benchmark is a module of this folder with a function `run()` that yields `Measured` values; its name is the module's.
"""

import argparse
import importlib
import pkgutil
import sys
from collections.abc import Iterable, Sequence

import tests.benchmarks
from tests.benchmarks.measured import Measured


def benchmark_names() -> list[str]:
    """The modules of this folder that are benchmarks."""
    names = sorted(module.name for module in pkgutil.iter_modules(tests.benchmarks.__path__))
    return [name for name in names if name not in {"__main__", "measured", "gardens"} and not name.startswith("test_")]


def report(figures: Iterable[Measured]) -> int:
    """Print each figure as it comes; 0 if every budget was kept, 1 if one was not or nothing was measured."""
    kept = []
    for figure in figures:
        print(figure.line(), flush=True)
        kept.append(figure.kept)
    return 0 if kept and all(kept) else 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the named benchmarks; the exit code is 1 if any of them is over its budget."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description="Measure against the budgets.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of: {', '.join(benchmark_names())}")
    names = parser.parse_args(arguments).names or benchmark_names()
    unknown = [name for name in names if name not in benchmark_names()]
    if unknown:
        parser.error(f"no such benchmark: {', '.join(unknown)} (there are: {', '.join(benchmark_names())})")
    return max(report(importlib.import_module(f"tests.benchmarks.{name}").run()) for name in names)


if __name__ == "__main__":
    sys.exit(main())
