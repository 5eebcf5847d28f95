"""The reference checks as tests, and the program that prints them."""

import re

import pytest

from tests.reference.__main__ import main
from tests.reference.chapters import CHAPTERS
from tests.reference.registry import Check

CHECKS = [
    pytest.param(check, id=f"{chapter.title}: {check.quantity} ({check.source}; {check.inputs})")
    for chapter in CHAPTERS
    for check in chapter.checks
]


@pytest.mark.parametrize("check", CHECKS)
def test_carewatch_gives_the_number_of_the_source(check: Check) -> None:
    """The number lies within the tolerance that belongs to the source."""
    assert check.passed, f"{check.quantity}: {check.got} instead of {check.expected} ± {check.tolerance}"


def test_the_program_prints_one_row_per_check_and_closes_with_the_count(capsys: pytest.CaptureFixture[str]) -> None:
    """`python -m tests.reference` ends with "N passed, N failed" and status 0 when nothing failed."""
    status = main()
    out = capsys.readouterr().out
    lines = out.splitlines()

    assert status == 0, out
    assert lines[-1] == f"{len(CHECKS)} passed, 0 failed"
    assert sum(bool(re.match(r"  pass  ", line)) for line in lines) == len(CHECKS)


def test_a_wrong_number_and_a_missing_number_both_fail() -> None:
    """A check passes at its tolerance, fails beyond it, and fails where carewatch answers NaN."""
    assert Check("length [m]", "ruler", "-", 1.0, 0.25, lambda: 1.25).passed
    assert not Check("length [m]", "ruler", "-", 1.0, 0.25, lambda: 1.3).passed
    assert not Check("length [m]", "ruler", "-", 1.0, 0.25, lambda: float("nan")).passed
