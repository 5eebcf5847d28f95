"""
Faults on purpose: `python -m tests.faults --kills 25 --seed 1`.

Watches the same frost night again and again. Each time something fails for real: the process is killed at a named seam,
the weather service or a channel misbehaves on its socket. The frost call must arrive all the same, once.
"""

import argparse
import os
import sys
import time
import traceback
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor

from carewatch.daemon.fault import SEAMS
from tests.faults.cases import Case, Kill, cases
from tests.faults.night import Outcome
from tests.faults.starter import Starter, started

# Nights with faults of servers mostly wait for time-outs; killed ones compute.
WAITING_AT_ONCE = 8
HEAD = ("fault", "runs", "delivered", "lost", "repeats", '"still valid"')


def report(found: Sequence[tuple[Case, Outcome]]) -> tuple[str, bool]:
    """The table with its totals, and whether all is well."""
    rows: list[tuple[str, ...]] = [HEAD]
    for label in dict.fromkeys(case.label for case, _ in found):
        of_it = [outcome for case, outcome in found if case.label == label]
        delivered = sum(outcome.delivered for outcome in of_it)
        repeats, said = sum(outcome.repeats for outcome in of_it), sum(outcome.still_valid for outcome in of_it)
        rows.append((label, *map(str, (len(of_it), delivered, len(of_it) - delivered, repeats, said))))
    wide = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    lines = [
        "  ".join([row[0].ljust(wide[0]), *(cell.rjust(width) for cell, width in zip(row[1:], wide[1:], strict=True))])
        for row in rows
    ]
    failed = [(case, outcome) for case, outcome in found if outcome.problems]
    lost = sum(not outcome.delivered for _, outcome in found)
    hit = {
        seam: sum(isinstance(case, Kill) and case.seam == seam and outcome.killed == 1 for case, outcome in found)
        for seam in SEAMS
    }
    lines += ["", f"killed at {', '.join(f'{seam} {count}' for seam, count in hit.items())}"]
    lines += [f"never killed at {seam}" for seam, count in hit.items() if not count]
    lines += [f"{case}:\n    {problem}" for case, outcome in failed for problem in outcome.problems]
    lines += [f"{lost} lost", f"{len(found) - len(failed)} passed, {len(failed)} failed"]
    return "\n".join(lines), not failed and not lost and all(hit.values())


def run_all(nights: Sequence[Case], starter: Starter) -> list[tuple[Case, Outcome]]:
    """What came of each night, in their order; several at once."""

    def run(case: Case) -> Outcome:
        try:
            return case.run(starter)
        except Exception:  # noqa: BLE001 - a night that broke is a failed one, and the others go on
            return Outcome(problems=[traceback.format_exc()])

    with ThreadPoolExecutor(WAITING_AT_ONCE) as waiting, ThreadPoolExecutor(2 * (os.cpu_count() or 1)) as computing:
        futures: list[Future[Outcome]] = [
            (computing if isinstance(case, Kill) else waiting).submit(run, case) for case in nights
        ]
        return [(case, future.result()) for case, future in zip(nights, futures, strict=True)]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run all nights and print the table; 1 if anything was lost, said once too often, or a seam was never hit."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.faults", description="Watch a frost night while things fail."
    )
    parser.add_argument("--kills", type=int, default=25, help="how many times the process is killed (default 25)")
    parser.add_argument("--seed", type=int, default=1, help="which kills: the same seed, the same nights")
    options = parser.parse_args(arguments)
    if options.kills < len(SEAMS):
        parser.error(f"--kills must be {len(SEAMS)} or more: every seam at least once")
    began_s = time.monotonic()
    with started() as starter:
        text, well = report(run_all(cases(options.kills, options.seed), starter))
    sys.stdout.write(f"seed {options.seed}, {time.monotonic() - began_s:.0f} s\n\n{text}\n")
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
