"""Prints every reference check and its verdict; ends with status 1 if any failed."""

import math
import sys
from collections import Counter

from tests.reference.chapters import CHAPTERS
from tests.reference.registry import TRUST_MEANINGS, Chapter, Check

COLUMNS = ("verdict", "quantity", "expected", "±", "got", "trust", "source; inputs")


def main() -> int:
    """Status for the shell: 0 if all checks passed, 1 otherwise."""
    chapters = [chapter for chapter in CHAPTERS if chapter.checks]
    checks = [check for chapter in chapters for check in chapter.checks]
    rows = {id(check): _row(check) for check in checks}
    widths = [max(len(row[column]) for row in (COLUMNS, *rows.values())) for column in range(len(COLUMNS) - 1)]
    for chapter in chapters:
        _print_chapter(chapter, rows, widths)
    for trust, meaning in TRUST_MEANINGS.items():
        print(f"{trust}: {meaning} ({sum(check.trust == trust for check in checks)} of {len(checks)})")
    failed = sum(not check.passed for check in checks)
    print(f"{len(checks) - failed} passed, {failed} failed")
    return 1 if failed else 0


def _print_chapter(chapter: Chapter, rows: dict[int, tuple[str, ...]], widths: list[int]) -> None:
    trusts = Counter(check.trust for check in chapter.checks)
    print(f"{chapter.title}: " + ", ".join(f"{count} {trust}" for trust, count in trusts.most_common()))
    for row in (COLUMNS, *(rows[id(check)] for check in chapter.checks)):
        print("  " + "  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]))
    print()


def _row(check: Check) -> tuple[str, ...]:
    """The cells of one check; numbers carry one digit more than the tolerance can tell apart."""
    decimals = 0 if check.tolerance >= 1.0 else min(1 - math.floor(math.log10(check.tolerance)), 6)
    expected, got = (f"{number:.{decimals}f}" for number in (check.expected, check.got))
    verdict = "pass" if check.passed else "FAIL"
    return (
        verdict,
        check.quantity,
        expected,
        f"{check.tolerance:g}",
        got,
        check.trust,
        f"{check.source}; {check.inputs}",
    )


if __name__ == "__main__":
    sys.exit(main())
