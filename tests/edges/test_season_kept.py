"""What a whole cycle keeps of the long clock for the hours in which it is not asked."""

import json
from dataclasses import replace
from datetime import date, timedelta
from unittest import mock

import pytest

from carewatch.daemon.job import Judged, Task, judge_garden
from carewatch.daemon.season import QUARTERS, SHELTERS, TOLD
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import put_facts
from tests.alerts.made import at, call
from tests.alerts.test_seasons import task
from tests.edges.watched import MORNING, Watched, kinds


def test_where_a_resting_layer_stays_and_no_place_that_is_gone(garden: Watched) -> None:
    """So that a call of the evening can say "leave it there"; a barn that is gone from the files is forgotten."""
    garden.set_clock(MORNING)
    code, _, logged = garden.ran("log", "maple-layer-1", "observe", "leaf-fall")
    assert code == 0, logged
    with Database.open(garden.database, MORNING) as database, database.transaction(MORNING) as transaction:
        told = {TOLD: json.dumps(["winter-place:2026"]), QUARTERS: json.dumps({"maple-layer-1": "barn"})}
        put_facts(transaction, told)
    garden.once(MORNING + timedelta(minutes=1))
    assert json.loads(garden.facts()[SHELTERS]) == {"maple-layer-1": "shed"}
    assert json.loads(garden.facts()[QUARTERS])["maple-layer-1"] == "plunge"


@pytest.mark.parametrize(("likely", "said"), [(0.9, ["rounds"]), (0.3, ["season"])])
def test_the_plan_waits_with_a_layer_that_a_likely_call_of_the_next_days_wants_elsewhere(
    garden: Watched, likely: float, said: list[str]
) -> None:
    """Told to bank it and, three days later, to carry it, the grower would handle it twice."""
    cold = call("maple-layer-1", measure="move:shed", act_by=at(15, day=8), night=at(2, day=9))
    cold = replace(cold, spells=(replace(cold.spells[0], probability=likely),))
    bank = replace(task("maple-layer-1", last=date(2026, 11, 10)), state="due")

    def foreseen(wanted: Task) -> Judged:
        return replace(judge_garden(wanted), calls=(cold,), tasks=(bank,), questions=())

    with mock.patch("carewatch.daemon.wiring.judge_garden", foreseen):
        assert kinds(garden.once(MORNING)) == said
