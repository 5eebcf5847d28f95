"""A benchmark is only worth its time if it can fail."""

import sys

import pytest

from tests.benchmarks.__main__ import benchmark_names, main, report
from tests.benchmarks.measured import Measured
from tests.benchmarks.start import best_time_s


def test_a_figure_over_its_budget_fails_the_run(capsys: pytest.CaptureFixture[str]) -> None:
    """One budget kept and one passed gives exit code 1, and the line says which."""
    figures = [Measured("quick", 0.2, 0.25, "s"), Measured("slow", 0.3, 0.25, "s", "3 times a bare start")]

    assert report(figures) == 1
    quick, slow = capsys.readouterr().out.splitlines()
    assert "kept" in quick
    assert "OVER BUDGET" in slow
    assert "3 times a bare start" in slow


def test_figures_within_their_budgets_pass() -> None:
    """A budget that is just met is kept."""
    assert report([Measured("quick", 0.25, 0.25, "s")]) == 0


@pytest.mark.parametrize("figures", [[], [Measured("lost", float("nan"), 1.0, "s")]])
def test_a_run_without_a_number_is_no_pass(figures: list[Measured]) -> None:
    """Nothing measured is not within any budget."""
    assert report(figures) == 1


def test_a_command_that_fails_has_no_time() -> None:
    """A crash in ten milliseconds is an error with its last words, not a record."""
    with pytest.raises(RuntimeError, match=r"exit code 3: broken"):
        best_time_s([sys.executable, "-c", "import sys; print('broken', file=sys.stderr); sys.exit(3)"], tries=1)


def test_an_unknown_benchmark_is_refused_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong name ends with usage and the names that there are."""
    with pytest.raises(SystemExit) as ended:
        main(["strat"])

    assert ended.value.code == 2
    assert "no such benchmark: strat" in capsys.readouterr().err
    assert "start" in benchmark_names()
