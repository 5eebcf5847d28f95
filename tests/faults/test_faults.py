"""The fault harness on a small scale: it runs, what it arms happens, and it would see a loss and a double."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest

from carewatch.daemon.fault import SEAMS
from tests.faults.__main__ import report
from tests.faults.cases import Case, Kill, Nothing, Weather, kills
from tests.faults.night import MOMENTS, MORNING, NOON, Outcome, night
from tests.faults.starter import Starter, started

MINUTE = timedelta(minutes=1)


@pytest.fixture(scope="module")
def starter() -> Iterator[Starter]:
    with started() as running:
        yield running


def test_a_kill_between_send_and_mark_repeats_the_call_as_still_valid(starter: Starter) -> None:
    outcome = Kill("between-send-and-mark", 1, (), NOON + 180 * MINUTE, 3 * MINUTE).run(starter, fresh=False)

    assert outcome == Outcome(delivered=True, repeats=1, still_valid=1, killed=1)


def test_a_weather_service_without_quota_costs_no_call(starter: Starter) -> None:
    """The call rests on the forecast of the morning."""
    outcome = Weather("429", (MORNING,), (NOON,), (NOON + 60 * MINUTE, NOON + 20 * 60 * MINUTE)).run(starter)

    assert outcome == Outcome(delivered=True)


def test_a_call_that_arrives_after_dusk_counts_as_lost_and_a_double_is_seen(starter: Starter) -> None:
    """The channel takes nothing until it is dark."""
    with night(starter) as watch:
        watch.sinks[0].arm("refused")
        watch.look(NOON)
        watch.sinks[0].arm("")
        watch.look(NOON + 4 * 60 * MINUTE)
        (late,) = watch.sinks[0].taken
        watch.sinks[0].taken.append(late)
        watch.look(MOMENTS[-1])
        outcome = watch.outcome(fault_until=NOON)

    assert (outcome.delivered, outcome.repeats, outcome.still_valid) == (False, 1, 0)
    assert [problem.split(" ")[0] for problem in outcome.problems] == ["the", "1", "1"]


@pytest.mark.parametrize("count", [6, 7, 25])
def test_kills_are_spread_over_all_seams_and_the_same_seed_gives_the_same(count: int) -> None:
    found = kills(count, seed=3)
    per_seam = [sum(kill.seam == seam for kill in found) for seam in SEAMS]

    assert sum(per_seam) == count
    assert max(per_seam) - min(per_seam) <= 1
    assert found == kills(count, seed=3)


def test_the_report_fails_for_a_loss_and_for_a_seam_that_was_never_hit() -> None:
    well: list[tuple[Case, Outcome]] = [(kill, Outcome(delivered=True, killed=1)) for kill in kills(6, seed=1)]
    missed = [(case, replace(outcome, killed=int(place > 0))) for place, (case, outcome) in enumerate(well)]
    lost = [*well, (Nothing(), Outcome(problems=["it never came"]))]

    assert (report(well)[1], report(missed)[1], report(lost)[1]) == (True, False, False)
    assert report(well)[0].splitlines()[-2:] == ["0 lost", "6 passed, 0 failed"]
    assert report(lost)[0].splitlines()[-2:] == ["1 lost", "6 passed, 1 failed"]
    assert "it never came" in report(lost)[0]
