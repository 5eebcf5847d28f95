"""Whole cycles of `once`: a weather service, a sink and a database are real; only the clock is set by hand."""

import json
import re
from datetime import datetime, timedelta
from importlib.resources import files
from unittest import mock
from zoneinfo import ZoneInfo

import jsonschema

from carewatch.care.log import Entry
from carewatch.daemon.job import Judged, Task, judge_garden
from carewatch.sqlite.care_log import add
from carewatch.sqlite.database import Database
from tests.edges.watched import CALL, MORNING, Watched, cold_night, kinds, with_members

DUSK = "16:40"


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
    # The winter plan, in which the layer stands too, waits until the call has been heard.
    assert (kinds(early), kinds(told), kinds(again)) == ([], ["call"], [])
    assert told["notices"][0]["trees"] == ["maple-layer-1"]
    assert told["attempts"] == [
        {"notice": told["notices"][0]["id"], "channel": "phone", "ending": "sent", "reason": ""}
    ]
    (title,) = garden.web.titles()
    assert "maple-layer-1" in title
    found = re.search(r"before (\d\d:\d\d)\.", title)
    assert found is not None, title
    assert "14:00" < found[1] < DUSK
    assert not {"old-maple", "pine"} & set(json.dumps(garden.web.posts).replace('"', " ").split())


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
    assert "maple-layer-1: noted at 14:10: it is under heavy fleece by night" in out


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
