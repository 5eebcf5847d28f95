"""Cycles of `once` in which something fails: the forecast, the engine on one tree, the planning, the process itself."""

import signal
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from unittest import mock

import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.plan import Plan, plan
from carewatch.assess import Assessment, Numbers, assess
from carewatch.care.garden import Garden, NoticeRules
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import give_up
from carewatch.daemon.job import Candidate, Numbered, Task, judge_garden
from carewatch.daemon.wiring import Asked, built
from carewatch.forecast.weather import Weather
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions
from tests.alerts.made import NOBODY
from tests.edges.watched import CALL, MORNING, Answer, Watched, cold_night, kinds


def without(name: str) -> Answer:
    """The answer, without one of its variables."""
    answer = cold_night()
    return {**answer, "hourly": {key: values for key, values in answer["hourly"].items() if key != name}}


def filled_with(value: object) -> Answer:
    """The answer with the same thing in every place of a number."""
    answer = cold_night()
    return {**answer, "hourly": {name: [value] * len(values) for name, values in answer["hourly"].items()}}


BROKEN: dict[str, object] = {
    "an error message": {"error": True, "reason": "no"},
    "no hours": {**cold_night(), "hourly": {}},
    "no air temperature": without("temperature_2m"),
    "no times": without("time"),
    "words for numbers": filled_with("warm"),
    "nothing for numbers": filled_with(None),
    "objects for numbers": filled_with({}),
    "numbers beyond all measure": filled_with(1e308),
    "a list": [],
    "a number": 7,
    "nothing": None,
    "hours of another year": {
        **cold_night(),
        "hourly": {**cold_night()["hourly"], "time": list(range(0, 518400, 3600))},
    },
}


@pytest.mark.parametrize("what", BROKEN)
def test_no_malformed_document_breaks_the_judging(garden: Watched, what: str) -> None:
    """It is refused with a reason; what of it can be used is named when it serves."""
    tables = load_tables()
    loaded = load(garden.config, {}, CALL, tables)
    numbered = Numbered(tables.condition, tables.measures, tables.hazards, tables.forecast_errors)
    candidate = Candidate("fresh", ForecastDocuments(BROKEN[what], BROKEN[what]), CALL)

    judged = judge_garden(Task(loaded.garden, candidate, SourceOptions(50.3, 9.1), numbered, CALL))

    assert judged.refused
    assert (judged.calls, judged.summary) == ((), None)


def test_a_malformed_forecast_is_passed_over_and_the_last_good_one_serves_on(garden: Watched) -> None:
    """Nothing that stands is silenced, and what cannot be used is not kept as if it could."""
    garden.once(MORNING)
    garden.web.weather = without("temperature_2m")

    told = garden.once(CALL)
    assert kinds(told) == ["call"]
    assert told["judged_on"]["issued_at"] == "2026-11-05T08:00+01:00"
    assert "temperature_2m" in garden.facts()["poll.failed"]

    garden.web.weather_status = 400
    after = garden.once(CALL + timedelta(minutes=20))
    assert (after["judged_on"]["issued_at"], kinds(after)) == ("2026-11-05T08:00+01:00", [])


def breaking_off(hours: int) -> Answer:
    """The answer, with no air temperature from so many hours after the morning on."""
    answer = cold_night()
    known = [
        value if stamp <= (MORNING + timedelta(hours=hours)).timestamp() else None
        for stamp, value in zip(answer["hourly"]["time"], answer["hourly"]["temperature_2m"], strict=True)
    ]
    return {**answer, "hourly": {**answer["hourly"], "temperature_2m": known}}


def test_a_forecast_that_breaks_off_before_the_night_does_not_hide_the_night(garden: Watched) -> None:
    """The last good one reaches further and serves on; it is not a new opinion, and the poll counts as failed."""
    garden.once(MORNING)
    garden.web.weather = breaking_off(9)

    told = garden.once(CALL)
    assert kinds(told) == ["call"]
    assert told["judged_on"]["issued_at"] == "2026-11-05T08:00+01:00"
    assert "hours only" in garden.facts()["poll.failed"]

    garden.web.weather = cold_night()
    after = garden.once(CALL + timedelta(minutes=20))
    assert after["judged_on"]["issued_at"] > told["judged_on"]["issued_at"]


def test_a_forecast_that_breaks_off_serves_where_there_is_none_that_reaches_further(garden: Watched) -> None:
    """What it holds is used, and the next whole one is taken up."""
    garden.web.weather = breaking_off(9)
    told = garden.once(MORNING)
    assert told["judged_on"]["issued_at"] == "2026-11-05T08:00+01:00"
    assert told["problems"] == []
    garden.web.weather = cold_night()
    assert kinds(garden.once(CALL)) == ["call"]


def test_without_any_forecast_nothing_is_judged_and_no_sign_of_life_is_given(garden: Watched) -> None:
    heartbeat = f'heartbeat_url = "http://127.0.0.1:{garden.web.port}/beat/x"'
    garden.plant(notices=heartbeat, trees=("pine",))
    garden.web.weather_status = 400

    nothing = garden.once(MORNING)
    assert (nothing["code"], nothing["judged_on"], nothing["complete"]) == (1, None, False)
    assert nothing["problems"] == ["there is no forecast yet"]
    assert garden.web.beats == 0

    garden.web.weather_status = 200
    assert garden.once(MORNING + timedelta(minutes=20))["complete"]
    assert garden.web.beats == 1


def test_a_blind_watch_says_so_once_by_day_and_once_that_it_sees_again(garden: Watched) -> None:
    garden.plant(trees=("pine",))
    garden.once(MORNING)
    garden.web.weather_status = 400
    said = [garden.once(MORNING + timedelta(hours=hour)) for hour in (6, 12, 13, 14)]
    assert [kinds(each) for each in said] == [[], [], ["blind"], []]
    assert [each["blind"] for each in said] == [False, False, True, True]
    assert garden.web.titles() == ["Your trees are not watched: no usable forecast since today 8:00."]

    garden.web.weather_status = 200
    back = [garden.once(MORNING + timedelta(hours=hour)) for hour in (25, 26)]
    assert [kinds(each) for each in back] == [["sees-again"], []]
    assert garden.web.titles()[1:] == ["Your trees are watched again: a forecast has come."]


def failing_on(tree_id: str, error: Exception) -> Callable[..., Assessment]:
    """The engine, if it failed on one tree."""

    def engine(
        garden: Garden, weather: Weather, numbers: Numbers, now: datetime, told: Mapping[str, str], **_: object
    ) -> Assessment:
        if any(tree.id == tree_id for tree in garden.trees):
            raise error
        return assess(garden, weather, numbers, now, told=told)

    return engine


def test_a_tree_on_which_the_engine_fails_is_named_and_the_others_are_judged(garden: Watched) -> None:
    with mock.patch("carewatch.assess.assess", failing_on("pine", KeyError("no such needle"))):
        told = garden.once(CALL)

    assert kinds(told) == ["call"]
    assert garden.web.titles()
    assert list(told["unjudged"]) == ["pine"]
    assert "no such needle" in told["unjudged"]["pine"]
    assert (told["complete"], told["code"]) == (False, 1)


def test_a_tree_that_cannot_be_judged_any_more_keeps_what_was_said_of_it(garden: Watched) -> None:
    garden.once(CALL)

    with mock.patch("carewatch.assess.assess", failing_on("maple-layer-1", ValueError("broken"))):
        said = [garden.once(CALL + timedelta(minutes=20 * count)) for count in (1, 2, 3)]

    assert [kinds(each) for each in said] == [[], [], []]


def test_a_tree_for_which_nothing_can_be_planned_is_named_and_stops_no_other(garden: Watched) -> None:
    garden.plant(trees=("maple-layer-1", "maple-layer-2"))

    def fails_on_the_first(
        calls: Sequence[TreeCall],
        standing: Sequence[Danger],
        spoken: Sequence[Notice],
        rules: NoticeRules,
        now: datetime,
        new_run: bool = True,
        known: Known = NOBODY,
    ) -> Plan:
        if any(call.tree == "maple-layer-1" for call in calls):
            raise KeyError("no such word")
        return plan(calls, standing, spoken, rules, now, new_run, known)

    with mock.patch("carewatch.daemon.decide.plan", fails_on_the_first):
        told = garden.once(CALL)

    assert [notice["trees"] for notice in told["notices"]] == [["maple-layer-2"]]
    assert told["problems"] == ["nothing could be planned for maple-layer-1 (KeyError)"]
    assert told["code"] == 1


def test_cycles_that_break_altogether_end_in_the_word_that_the_watch_is_blind(garden: Watched) -> None:
    tables = load_tables()
    loaded = load(garden.config, {}, CALL, tables)
    asked = Asked(own_process=False, dry_run=False, fault=lambda _: None, stopping=lambda: False)

    for hour, expected in ((0, []), (6, []), (13, ["blind"]), (14, [])):
        now = MORNING + timedelta(hours=hour)
        with built(loaded, tables, {}, Clock(now), asked) as program:
            cycle = give_up(program.parts, program.database, now, "the program failed (KeyError)")
        assert [notice.kind for notice, _ in cycle.notices] == expected
        assert not cycle.complete

    assert "The reason: the program failed (KeyError)." in garden.web.posts[0]["message"]


def test_cycles_killed_again_and_again_before_anything_is_stored_lose_nothing(garden: Watched) -> None:
    """The first transaction of a cycle archives the forecast, the second one saves the plan."""
    for seam in ("after-fetch", "after-assess", "inside-transaction:1", "after-commit:1", "inside-transaction:2"):
        assert garden.once_killed(CALL, seam), f"{seam} was not reached"
        assert garden.notices() == ()

    assert kinds(garden.once(CALL)) == ["call"]
    assert len(garden.web.titles()) == 1


@pytest.mark.parametrize("seam", ["after-commit:2", "after-commit:4", "before-send"])
def test_a_cycle_killed_between_saving_and_sending_sends_afterwards_once(garden: Watched, seam: str) -> None:
    """The fourth transaction claims the row; who starts next is alone with the database and ends the claim."""
    assert garden.once_killed(CALL, seam)
    assert garden.web.posts == []

    assert kinds(garden.once(CALL + timedelta(seconds=10))) == []
    assert len(garden.web.titles()) == 1


@pytest.mark.parametrize("seam", ["between-send-and-mark", "inside-transaction:5"])
def test_a_cycle_killed_before_it_noted_what_was_sent_confirms_it_once(garden: Watched, seam: str) -> None:
    """Nobody can know whether it arrived: the second message must not read as a second danger."""
    garden.set_clock(CALL)
    ended = garden.command("once", more={"CAREWATCH_FAULT": seam})
    assert ended.returncode == -signal.SIGKILL, ended.stderr
    (first,) = garden.web.titles()

    for minutes in (1, 3, 4):
        garden.once(CALL + timedelta(minutes=minutes))

    assert garden.web.titles() == [first, f"Still valid: {first}"]
    assert [row.sent_at is not None for row in garden.rows()] == [True]
