"""The record of past weather, filled from an archive on this machine: by cycles, by command, killed, refused, gaps."""

import json
import os
import signal
import subprocess
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from unittest import mock

import pytest
from jsonschema import Draft202012Validator

from carewatch.cli import history_command
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.daemon.history import FIRST_WAIT, History
from carewatch.daemon.job import read_past
from carewatch.forecast.record import ARCHIVE, ARCHIVE_LAG_DAYS, CHUNK_DAYS, OPEN_METEO, Span
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import day_states, site_key
from carewatch.weather_api.http import HttpClient
from carewatch.weather_api.open_meteo import SourceOptions, call_weight
from tests.edges.invented_archive import Answer, archive, day_mean_c
from tests.edges.watched import MORNING, PROGRAM, Watched, web_service
from tests.outlook.gardens import schema

TODAY = MORNING.date()
BEGINS = TODAY - timedelta(days=366)
LAST = TODAY - timedelta(days=ARCHIVE_LAG_DAYS + 1)
SITE = site_key(50.3, 9.1, 250.0)
GAP = (date(2026, 3, 12), date(2026, 3, 13))
HOUR = timedelta(hours=1)


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant(trees=("pine",))
        web.archive = archive
        watched.set_clock(MORNING)
        yield watched


def fetched(garden: Watched, *arguments: str) -> Answer:
    """What `history --fetch --json` says."""
    code, out, logged = garden.ran("history", "--fetch", "--json", *arguments)
    assert out, logged
    found: Answer = json.loads(out)
    return {**found, "code": code}


def known(garden: Watched, origin: str = ARCHIVE) -> set[date]:
    """Days of which an origin has every hour."""
    with Database.open_for_reading(garden.database, MORNING) as database, database.snapshot(MORNING) as snapshot:
        return {day.day for day in day_states(snapshot, SITE) if day.origin == origin and day.hours == 24}


def days(first: date, last: date) -> set[date]:
    return {first + timedelta(days=number) for number in range((last - first).days + 1)}


def test_each_cycle_asks_for_one_more_season_until_the_year_is_whole(garden: Watched) -> None:
    """After the first forecast, newest first; then there is nothing to ask for."""
    for number in range(6):
        assert garden.once(MORNING + number * HOUR)["code"] == 0
        assert len(garden.web.archive_asked) == min(number + 1, 5)

    assert known(garden) == days(BEGINS, LAST)
    assert garden.web.archive_asked[0][1] == LAST
    assert all((last - first).days < CHUNK_DAYS for first, last in garden.web.archive_asked)


def test_without_a_forecast_nothing_is_asked_of_the_archive(garden: Watched) -> None:
    """A service that is down is not asked for more."""
    garden.web.weather_status = 400

    garden.once(MORNING)

    assert garden.web.archive_asked == []


def test_the_service_fills_the_record_between_its_cycles(garden: Watched) -> None:
    with garden.service() as service:
        service.looked_at(MORNING)
        service.until(lambda: len(known(garden)) >= CHUNK_DAYS, "the first season")
        service.looked_at(MORNING + HOUR + timedelta(minutes=10))
        service.until(lambda: len(known(garden)) >= 2 * CHUNK_DAYS, "the second season")
        assert service.stop() == 0

    assert len(garden.web.archive_asked) == 2


def test_a_command_asks_for_all_of_it_at_once_and_tells_what_it_has(garden: Watched) -> None:
    garden.once(MORNING)
    garden.web.archive_asked.clear()

    told = fetched(garden)

    assert (
        list(Draft202012Validator(schema("history")).iter_errors({k: v for k, v in told.items() if k != "code"})) == []
    )
    assert told["code"] == 0
    assert told["wanted"] == {"first": str(BEGINS), "last": str(TODAY - timedelta(days=1)), "days": 366}
    assert sum(chunk["days"] for chunk in told["asked"]) == len(days(BEGINS, LAST)) - CHUNK_DAYS
    assert [origin["origin"] for origin in told["origins"]] == [ARCHIVE, OPEN_METEO]
    # The five days that no archive has yet are known from the forecast's own past, as far as that reaches.
    assert told["known_days"] == len(days(BEGINS, LAST)) + 1
    assert [(gap["first"], gap["last"]) for gap in told["gaps"]] == [("2026-10-31", "2026-11-03")]


def test_a_person_sees_lines_in_a_file_and_a_bar_on_a_terminal(garden: Watched) -> None:
    ended = garden.command("history", "--fetch", more={"COLUMNS": "100"})
    lines = ended.stderr.splitlines()
    assert (ended.returncode, len(lines)) == (0, 5)
    assert lines[0] == f"{LAST - timedelta(days=CHUNK_DAYS - 1)} to {LAST}: 90 of 90 days"
    assert f"Past weather of {BEGINS} to {TODAY - timedelta(days=1)}: 361 of 366 days are known." in ended.stdout
    assert "Copernicus" in ended.stdout

    garden.database.unlink()
    ended = garden.command("history", "--fetch", more={"FORCE_COLOR": "1", "COLUMNS": "100"})
    assert ended.returncode == 0
    assert "Past weather" in ended.stderr
    assert "361/361" in ended.stderr


def test_a_fetch_that_is_killed_goes_on_where_it_was(garden: Watched) -> None:
    """What was stored is not asked for again, and no half of a chunk is there."""
    third, released = threading.Event(), threading.Event()

    def hangs_on_the_third(first: date, last: date) -> Answer:
        if len(garden.web.archive_asked) == 3:
            third.set()
            released.wait(30)
        return archive(first, last)

    garden.web.archive = hangs_on_the_third
    with subprocess.Popen(
        [*PROGRAM, "history", "--fetch", "--config", str(garden.config)],
        env=garden.environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        assert third.wait(60)
        process.send_signal(signal.SIGKILL)
    released.set()
    asked = list(garden.web.archive_asked)
    assert len(known(garden)) == 2 * CHUNK_DAYS

    fetched(garden)

    assert known(garden) == days(BEGINS, LAST)
    assert garden.web.archive_asked[3] == asked[2]
    assert len(garden.web.archive_asked) == 3 + 3


def test_a_cycle_that_is_killed_while_it_stores_a_season_asks_for_it_again(garden: Watched) -> None:
    garden.once(MORNING)
    stored = known(garden)
    # The transactions of a cycle with a new look at the weather come before that of the record.
    for number in range(1, 9):
        garden.once_killed(MORNING + HOUR, f"inside-transaction:{number}")
        assert len(known(garden) - stored) in (0, CHUNK_DAYS)
    for number in range(2, 8):
        garden.once(MORNING + number * HOUR)

    assert known(garden) == days(BEGINS, LAST)


def test_days_that_the_archive_does_not_know_are_named_and_asked_for_again_another_day(garden: Watched) -> None:
    garden.web.archive = lambda first, last: archive(first, last, GAP)
    told = fetched(garden)
    assert (told["gaps"][0]["first"], told["gaps"][0]["days"], told["gaps"][0]["asked"]) == (str(GAP[0]), 2, 1)
    _, out, _ = garden.ran("history")
    assert "missing: 2026-03-12 to 2026-03-13 (2 days), asked for once, and again later" in out

    garden.web.archive_asked.clear()
    assert fetched(garden)["asked"] == []
    garden.web.archive = archive
    garden.set_clock(MORNING + timedelta(days=1))
    told = fetched(garden)

    assert GAP in garden.web.archive_asked
    assert str(GAP[0]) not in [gap["first"] for gap in told["gaps"]]
    assert set(GAP) <= known(garden)


def test_a_judgement_names_what_is_assumed_and_after_the_fetch_nothing_is(garden: Watched) -> None:
    """A gap is drawn from the days around it, and said."""

    def assumed() -> list[str]:
        code, out, logged = garden.ran("outlook", "--json")
        assert code == 0, logged
        found: list[str] = json.loads(out)["forecast"]["assumed"]
        return found

    assert any("the usual weather of the season stands in" in line for line in assumed())
    garden.web.archive = lambda first, last: archive(first, last, GAP)
    garden.once(MORNING)
    fetched(garden)
    (said,) = [line for line in assumed() if "not on record (" in line]
    assert said.startswith("6 days of the past are not on record (12 Mar 2026 to 13 Mar 2026, 31 Oct 2026 to")
    assert not any("usual weather" in line for line in assumed())


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ({"error": True, "reason": "End date is out of range"}, "out of range"),
        ({"hourly": {}}, "no times"),
        ({"hourly": {"time": [0], "temperature_2m": [None]}, "hourly_units": {"temperature_2m": "°C"}}, "temperature"),
        ([], "empty list"),
        (7, "no object"),
    ],
    ids=["an error", "no hours", "nothing known", "a list", "a number"],
)
def test_an_answer_that_cannot_be_used_stores_nothing_and_ends_the_fetch(
    garden: Watched, answer: object, said: str
) -> None:
    garden.web.archive = lambda *_: answer  # type: ignore[assignment]  # what a broken service may say

    told = fetched(garden)

    assert told["code"] == 1
    assert said in told["asked"][0]["refused"]
    assert len(garden.web.archive_asked) == 1
    assert known(garden) == set()


def test_hours_of_other_days_than_those_asked_for_are_not_taken(garden: Watched) -> None:
    """They count as not known, and are asked for again."""
    garden.web.archive = lambda first, last: archive(first - timedelta(days=400), last - timedelta(days=400))

    told = fetched(garden)

    assert known(garden) == set()
    assert told["known_days"] == 0


def test_after_a_refusal_cycles_leave_the_archive_alone_for_longer_each_time(garden: Watched) -> None:
    garden.web.archive = None
    for minutes in (0, 50, 61, 170, 182):
        garden.once(MORNING + timedelta(minutes=minutes))

    assert len(garden.web.archive_asked) == 3
    assert "no such days" in garden.facts()["history.failed"]
    garden.web.archive = archive
    garden.once(MORNING + timedelta(minutes=182) + 4 * FIRST_WAIT)
    assert "history.failed" not in garden.facts()
    assert len(known(garden)) == CHUNK_DAYS


def test_a_dry_run_says_what_would_be_asked_and_asks_nothing(garden: Watched) -> None:
    told = fetched(garden, "--dry-run")

    assert sum(chunk["days"] for chunk in told["asked"]) == len(days(BEGINS, LAST))
    assert 30 < told["calls"] < 60
    assert garden.web.archive_asked == []
    assert not garden.database.exists()
    _, out, _ = garden.ran("history", "--fetch", "--dry-run")
    assert "Dry run: nothing was written." in out


def test_telling_what_there_is_asks_nothing_and_writes_nothing(garden: Watched) -> None:
    code, out, _ = garden.ran("history")

    assert code == 0
    assert "0 of 366 days are known" in out
    assert "carewatch history --fetch" in out
    assert garden.web.archive_asked == []
    assert not garden.database.exists()


def test_an_old_work_that_may_be_unfinished_makes_the_record_longer(garden: Watched) -> None:
    garden.ran("log", "pine", "root-prune", "--removed", "0.3", "--on", "2024-03-10")

    assert fetched(garden, "--dry-run")["wanted"]["first"] == "2024-03-10"


def test_a_recorded_forecast_needs_no_archive(garden: Watched) -> None:
    """Offline is offline."""
    (garden.folder / "saved.json").write_text(json.dumps(garden.web.weather), encoding="utf-8")
    text = garden.config.read_text(encoding="utf-8")
    garden.config.write_text(
        text.replace("[weather]\n", '[weather]\nsource = "recorded"\nfile = "saved.json"\n'), encoding="utf-8"
    )

    assert garden.once(MORNING)["code"] == 0

    assert garden.web.archive_asked == []


def test_the_public_archive_is_given_time_between_chunks_and_an_own_server_is_not(garden: Watched) -> None:
    """A chunk weighs about ten calls (variables / 10 × days / 14), and a minute has room for sixty."""
    loaded = load(garden.config, {}, MORNING, load_tables())
    span = Span(LAST - timedelta(days=CHUNK_DAYS - 1), LAST)
    with HttpClient("") as client:
        public, own = (
            History(loaded.garden, options, client, read_past, str).pause_s(span)
            for options in (
                SourceOptions(50.3, 9.1),
                SourceOptions(50.3, 9.1, archive_url="http://nas:8080/v1/archive"),
            )
        )
    assert public == pytest.approx(call_weight(15, 90), rel=0.01)
    assert 9.0 < public < 11.0
    assert own == 0.0

    slept: list[float] = []
    with mock.patch.object(History, "pause_s", return_value=9.6), mock.patch.dict(os.environ, garden.environ):
        code = history_command.history(str(garden.config), True, False, os.environ, True, slept.append)
    assert (code, slept) == (0, [9.6] * 4)


def test_what_the_forecast_source_knows_of_the_past_is_kept_and_shown_beside_the_archive(garden: Watched) -> None:
    """The demo's four days begin on the 4th; five days later the archive has it too, and the difference is told."""
    garden.once(MORNING)
    assert known(garden, OPEN_METEO) == {date(2026, 11, 4), date(2026, 11, 5)}
    garden.set_clock(MORNING + timedelta(days=20))

    told = fetched(garden)

    offset = told["archive_offset"]
    assert offset["days"] == 2
    hourly = garden.web.weather
    assert isinstance(hourly, dict)
    air = hourly["hourly"]["temperature_2m"][:48]
    expected = sum(day_mean_c(date(2026, 11, day)) for day in (4, 5)) / 2 - sum(air) / len(air)
    assert offset["kelvin"] == pytest.approx(expected, abs=0.02)
    assert datetime.fromisoformat(told["at"]) == (MORNING + timedelta(days=20)).astimezone(UTC)


def test_a_year_on_record_takes_less_than_a_megabyte(garden: Watched) -> None:
    """Of the sixty that a year of the service may take."""
    garden.once(MORNING)
    before = garden.database.stat().st_size

    fetched(garden)

    assert garden.database.stat().st_size - before < 1_000_000
