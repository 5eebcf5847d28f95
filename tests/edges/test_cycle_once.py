"""Whole cycles of `once`: a weather service, a sink and a database are real; only the clock is set by hand."""

import json
import re
import signal
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path
from unittest import mock
from zoneinfo import ZoneInfo

import jsonschema
import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.plan import Plan, plan
from carewatch.assess import Assessment, Numbers, assess
from carewatch.care.garden import Garden, NoticeRules
from carewatch.care.log import Entry
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import give_up
from carewatch.daemon.job import Candidate, Judged, Numbered, Task, judge_garden
from carewatch.daemon.wiring import Asked, built
from carewatch.forecast.weather import Weather
from carewatch.sqlite.care_log import add
from carewatch.sqlite.database import Database
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions
from tests.alerts.made import NOBODY
from tests.edges.watched import MORNING, Answer, Watched, cold_night, web_service, with_members

# Two in the afternoon in the garden: the last waking moment that leaves three hours and the work has come.
CALL = MORNING + timedelta(hours=6)
DUSK = "16:40"
# apprise loads all its services at the first address, and one of them asks for a module that Python 3.13 dropped.
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        yield watched


def kinds(said: Answer) -> list[str]:
    return [notice["kind"] for notice in said["notices"]]


def test_a_frost_night_is_told_once_by_day_for_the_layer_and_not_for_those_that_bear_it(garden: Watched) -> None:
    """
    Nobody is woken for it, nor told after dusk.

    A layer severed three weeks ago that is still green loses its leaves to −4 °C; a maple in its last colour sheds them
    anyway, and a pine is hardy (common practice).
    """
    early = garden.once(MORNING)
    told = garden.once(CALL)
    again = garden.once(CALL + timedelta(minutes=30))

    schema = json.loads((files("carewatch") / "cli" / "schemas" / "once.schema.json").read_text(encoding="utf-8"))
    for said in (early, told, again):
        jsonschema.validate({name: value for name, value in said.items() if name not in ("code", "logged")}, schema)
    assert (early["code"], told["code"], again["code"]) == (0, 0, 0)
    assert early["in_danger"] == ["maple-layer-1"]
    # In the morning the winter plan is told, once; it is about other trees too.
    assert (kinds(early), kinds(told), kinds(again)) == (["season"], ["call"], [])
    assert told["notices"][0]["trees"] == ["maple-layer-1"]
    assert told["attempts"] == [
        {"notice": told["notices"][0]["id"], "channel": "phone", "ending": "sent", "reason": ""}
    ]
    _, title = garden.web.titles()
    assert "maple-layer-1" in title
    found = re.search(r"before (\d\d:\d\d)\.", title)
    assert found is not None, title
    assert "14:00" < found[1] < DUSK
    assert not {"old-maple", "pine"} & set(json.dumps(garden.web.posts[1:]).replace('"', " ").split())


def test_the_archived_forecast_is_kept_once_however_often_it_was_fetched(garden: Watched) -> None:
    garden.plant(trees=("pine",))
    garden.once(MORNING)
    before = garden.database.stat().st_size
    for minutes in (10, 20, 30):
        garden.once(MORNING + timedelta(minutes=minutes))

    with (
        Database.open_for_reading(garden.database, MORNING) as database,
        database.snapshot(MORNING) as snapshot,
    ):
        assert snapshot.number("SELECT count(*) FROM forecast") == 1
        assert snapshot.number("SELECT count(*) FROM fetch") == 4
    assert garden.database.stat().st_size <= before + 8192


def test_a_dry_run_says_what_would_be_sent_and_leaves_no_trace(garden: Watched) -> None:
    said = garden.once(CALL, "--dry-run")

    assert (said["dry_run"], kinds(said)) == (True, ["call"])
    assert said["notices"][0]["channels"] == ["phone"]
    assert garden.web.posts == []
    assert not garden.database.exists()
    garden.once(MORNING)
    garden.web.beats = 0
    garden.web.posts.clear()
    before = garden.database.read_bytes()
    assert kinds(garden.once(CALL, "--dry-run")) == ["call"]
    assert garden.database.read_bytes() == before
    assert garden.web.posts == []


def test_a_moment_is_given_in_site_time_and_none_before_what_the_database_knows(garden: Watched) -> None:
    garden.set_clock(MORNING)
    code, out, _ = garden.ran("once", "--json", "--at", "2026-11-05T14:00")
    assert (code, kinds(json.loads(out))) == (0, ["call"])
    assert json.loads(out)["at"] == "2026-11-05T14:00+01:00"

    code, _, logged = garden.ran("once", "--at", "2026-11-05T13:59")
    assert code == 2
    assert "before what the database knows" in logged
    assert len(garden.notices()) == 1
    assert garden.ran("once", "--at", "lunch")[0] == 2


def test_a_person_reads_what_came_of_it(garden: Watched) -> None:
    garden.set_clock(CALL)

    code, out, _ = garden.ran("once")

    assert code == 0
    assert "Judged 3 trees on the forecast of today 14:00: 1 in danger." in out
    assert "call (Moderate), for phone:" in out
    assert "Sent to phone" in out


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
    numbered = Numbered(tables.works, tables.measures, tables.hazards, tables.forecast_errors)
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
    assert garden.web.titles()[1:] == ["The watch sees again: a forecast has come."]


def test_a_tree_on_which_the_engine_fails_is_named_and_the_others_are_judged(garden: Watched) -> None:
    def fails_on_the_pine(
        garden: Garden, weather: Weather, numbers: Numbers, now: datetime, told: Mapping[str, str], **_: object
    ) -> Assessment:
        if any(tree.id == "pine" for tree in garden.trees):
            raise KeyError("no such needle")
        return assess(garden, weather, numbers, now, told=told)

    with mock.patch("carewatch.assess.assess", fails_on_the_pine):
        told = garden.once(CALL)

    assert kinds(told) == ["call"]
    assert garden.web.titles()
    assert list(told["unjudged"]) == ["pine"]
    assert "no such needle" in told["unjudged"]["pine"]
    assert (told["complete"], told["code"]) == (False, 1)


def test_a_tree_that_cannot_be_judged_any_more_keeps_what_was_said_of_it(garden: Watched) -> None:
    garden.once(CALL)

    def fails_on_the_layer(
        garden: Garden, weather: Weather, numbers: Numbers, now: datetime, told: Mapping[str, str], **_: object
    ) -> Assessment:
        if any(tree.id == "maple-layer-1" for tree in garden.trees):
            raise ValueError("broken")
        return assess(garden, weather, numbers, now, told=told)

    with mock.patch("carewatch.assess.assess", fails_on_the_layer):
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


def test_the_log_that_moves_while_the_garden_is_judged_has_it_judged_again(garden: Watched) -> None:
    judged = 0

    def covered_meanwhile(task: Task) -> Judged:
        nonlocal judged
        judged += 1
        answer = judge_garden(task)
        if judged == 1:
            begin(garden, "heavy-fleece-is-on", CALL - timedelta(minutes=1))
        return answer

    garden.once(MORNING)
    garden.web.posts.clear()
    with mock.patch("carewatch.daemon.wiring.judge_garden", covered_meanwhile):
        told = garden.once(CALL)

    assert judged == 2
    assert kinds(told) == []
    assert garden.web.posts == []


def test_an_entry_in_the_database_counts_like_one_in_the_file(garden: Watched) -> None:
    """The cover that is on already is not asked for."""
    garden.once(MORNING)
    begin(garden, "on since this morning", CALL - timedelta(hours=1))

    told = garden.once(CALL)

    assert (told["in_danger"], kinds(told)) == (["maple-layer-1"], [])


def begin(garden: Watched, note: str, at: datetime) -> None:
    """Log that the layer has its cover."""
    entry = Entry("maple-layer-1", "begin", at, measure="fleece-heavy", note=note)
    with Database.open(garden.database, at) as database, database.transaction(CALL) as transaction:
        add(transaction, entry, ZoneInfo("Europe/Berlin"))


def test_the_members_of_an_ensemble_are_judged_and_archived_with_their_single_run(garden: Watched) -> None:
    garden.plant(weather='members = "ensemble"', trees=("pine",))
    garden.web.ensemble = with_members(cold_night(), 7)

    first = garden.once(MORNING)
    assert (first["judged_on"]["members_from"], first["judged_on"]["members"]) == ("ensemble", 7)
    garden.web.weather_status = 400
    later = garden.once(MORNING + timedelta(hours=1))
    assert (later["judged_on"]["members_from"], later["judged_on"]["members"]) == ("ensemble", 7)


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


def test_a_second_one_on_the_same_database_is_refused(garden: Watched) -> None:
    garden.once(MORNING)
    garden.web.posts.clear()
    garden.set_clock(CALL)
    with Database.open(garden.database, CALL) as database, database.claim_instance():
        code, _, logged = garden.ran("once")

    assert code == 1
    assert "in use by another carewatch" in logged
    assert garden.web.posts == []


def test_what_is_wrong_with_the_configuration_is_told_all_at_once_and_nothing_is_written(garden: Watched) -> None:
    garden.set_clock(CALL)
    text = garden.config.read_text()
    garden.config.write_text(text.replace("latitude = 50.3", "latitude = 900").replace("caution = 0.5", "caution = 5"))

    code, _, logged = garden.ran("once")

    assert code == 2
    assert "latitude" in logged
    assert "caution" in logged
    assert not garden.database.exists()


def test_every_secret_that_cannot_be_read_is_named_at_once(garden: Watched) -> None:
    garden.plant(
        notices='heartbeat_url = "env:NO_SUCH_BEAT"',
        channels='[[notices.channel]]\nname = "phone"\nurl = "file:no-such-file"\n',
    )
    garden.set_clock(CALL)

    code, _, logged = garden.ran("once")

    assert code == 2
    assert "NO_SUCH_BEAT" in logged
    assert "no-such-file" in logged
    assert not garden.database.exists()


def test_a_recorded_forecast_serves_without_a_network(garden: Watched) -> None:
    (garden.folder / "answer.json").write_text(json.dumps({**cold_night(), "current": {"time": int(CALL.timestamp())}}))
    text = garden.config.read_text().replace("[weather]\n", '[weather]\nsource = "recorded"\nfile = "answer.json"\n')
    garden.config.write_text(text)

    told = garden.once(CALL)

    assert kinds(told) == ["call"]
    assert told["judged_on"]["source"] == "recorded"
    assert garden.web.asked == []


def test_without_any_channel_a_call_is_made_and_kept_and_it_is_said_that_it_reaches_nobody(garden: Watched) -> None:
    """It stands in the rounds and can be answered."""
    garden.plant(channels="")

    told = garden.once(CALL)

    assert (told["code"], kinds(told), told["attempts"]) == (0, ["call"], [])
    assert told["notices"][0]["channels"] == []
    assert "notices are made and reach nobody" in told["logged"]
    assert kinds(garden.once(CALL + timedelta(minutes=10))) == []
    code, out, _ = garden.ran("answer", "last", "done")
    assert code == 0
    assert "maple-layer-1: heavy fleece is in force from 14:10" in out


def test_before_an_absence_the_work_is_asked_for_at_the_rounds_and_the_absence_told_once(garden: Watched) -> None:
    """The cold night is that of the 6th, whose morning finds nobody there."""
    garden.plant(notices='away = [["2026-11-06", "2026-11-08"]]')

    early = garden.once(MORNING - timedelta(hours=1))
    later = [garden.once(MORNING + timedelta(hours=hour)) for hour in (0, 3)]

    said = {notice["kind"]: notice for notice in early["notices"]}
    # One message: the rounds ride along with the call, and the plan for the winter has time until they are back.
    assert sorted(said) == ["call"]
    call = said["call"]
    assert "You are away tomorrow to Sun 8 Nov: this is for before you leave." in call["body"]
    assert "`carewatch rounds --for-helper` prints a page for your helper." in call["body"]
    assert call["body"].count("You are away") == 1
    assert [kind for each in later for kind in kinds(each) if kind != "repeat"] == []
