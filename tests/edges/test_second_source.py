"""The second source in whole cycles: when it stands in, what it is asked, what is said of it, when it steps back."""

import json
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from functools import cache
from pathlib import Path

import pytest

from carewatch.daemon.forecasts import FALLBACK_AFTER
from carewatch.sqlite.database import Database
from tests.edges.invented_norway import encoded, norway
from tests.edges.watched import CALL, MORNING, Answer, Watched, cold_night, kinds, web_service, with_members

BY_THE_SECOND = timedelta(hours=7)
CONTACT = 'contact = "grower@example.org"'
FROM_NORWAY = f'source = "met-norway"\n{CONTACT}'


def hard_night() -> Answer:
    """The demo's cold night, six degrees colder: no layer that is still green bears it."""
    answer = cold_night()
    colder = {name: [value - 6.0 for value in answer["hourly"][name]] for name in ("temperature_2m", "dew_point_2m")}
    return {**answer, "hourly": {**answer["hourly"], **colder}}


def frost_c(at: datetime) -> float:
    """Air temperature of the same night, as the second source might foresee it. [°C]"""
    return _hard_night_c().get(int(at.timestamp()), 5.0)


@cache
def _hard_night_c() -> Mapping[int, float]:
    """Air temperature by Unix time. [°C]"""
    hourly = hard_night()["hourly"]
    return dict(zip(hourly["time"], hourly["temperature_2m"], strict=True))


class Norway:
    """The second service: an answer that begins at the hour, holds half an hour, and is confirmed when it is known."""

    def __init__(self, garden: Watched) -> None:
        self.garden = garden
        self.now = MORNING

    def __call__(self, headers: Mapping[str, str]) -> tuple[int, dict[str, str], bytes]:
        """What it answers to the headers of a request."""
        last_modified = format_datetime(self.now.replace(minute=0), usegmt=True)
        more = {
            "Date": format_datetime(self.now, usegmt=True),
            "Expires": format_datetime(self.now + timedelta(minutes=30), usegmt=True),
            "Last-Modified": last_modified,
        }
        if headers.get("if-modified-since") == last_modified:
            return 304, more, b""
        answer = norway(self.now.replace(minute=0), self.now - timedelta(hours=3), frost_c)
        return 200, more, encoded(answer)

    def once(self, at: datetime, *arguments: str) -> Answer:
        """A cycle at a moment that the service shares."""
        self.now = at
        return self.garden.once(at, *arguments)


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        web.weather = hard_night()
        watched.plant(weather=CONTACT, trees=("pine",))
        yield watched


@pytest.fixture
def second(garden: Watched) -> Norway:
    """Beside a pine: nobody needs to be called, so that little is to be judged."""
    norwegian = Norway(garden)
    garden.web.norway = norwegian
    return norwegian


@pytest.fixture
def layer(garden: Watched, second: Norway) -> Norway:
    """Beside a layer that does not bear the night, and two trees that do."""
    garden.plant(weather=CONTACT)
    return second


def source(said: Answer) -> str:
    found: str = said["judged_on"]["source"]
    return found


def test_a_young_forecast_of_the_first_source_serves_on_and_the_second_is_not_asked(second: Norway) -> None:
    """Its members and its light are worth more than a fresh answer without either."""
    second.once(MORNING)
    second.garden.web.weather_status = 400

    said = second.once(MORNING + FALLBACK_AFTER - timedelta(minutes=1))

    assert source(said) == "open-meteo"
    assert second.garden.web.norway_asked == []


def test_when_that_is_old_the_second_stands_in_and_every_message_says_so(layer: Norway) -> None:
    """With what is estimated; the past comes from what the first had answered, so little is assumed about it."""
    layer.once(CALL - BY_THE_SECOND)
    layer.garden.web.weather_status = 400

    said = layer.once(CALL)

    assert source(said) == "met-norway"
    assert said["judged_on"]["members_from"] == "dressed"
    assert any("MET Norway serves" in note and "HTTP 400" in note for note in said["notes"])
    assert any("earlier answers of Open-Meteo" in note for note in said["judged_on"]["notes"])
    assert said["notices"]
    for notice in said["notices"]:
        assert notice["body"].endswith(
            "From MET Norway, as Open-Meteo does not answer; radiation and gusts are estimated."
        )
        assert len(notice["body"]) <= 1000
    facts = layer.garden.facts()
    assert "HTTP 400" in facts["poll.failed"]
    assert json.loads(facts["assessment.summary"])["source"] == "met-norway"


def test_it_says_nothing_twice_for_having_changed_the_source(layer: Norway) -> None:
    told = layer.once(CALL)
    layer.garden.web.weather_status = 400
    again = layer.once(CALL + BY_THE_SECOND)

    assert kinds(told) == ["call"]
    assert source(again) == "met-norway"
    assert not {"call", "worse"} & set(kinds(again))


def test_the_second_steps_back_when_the_first_answers(second: Norway) -> None:
    second.garden.web.weather_status = 400
    assert source(second.once(MORNING)) == "met-norway"
    second.garden.web.weather_status = 200

    back = second.once(MORNING + timedelta(minutes=20))

    assert source(back) == "open-meteo"
    assert "poll.failed" not in second.garden.facts()
    second.garden.web.weather_status = 400
    assert source(second.once(MORNING + timedelta(minutes=40))) == "open-meteo"


def test_a_first_source_whose_answers_cannot_be_used_is_stood_in_for_too(second: Norway) -> None:
    answer = hard_night()
    hourly = {name: values for name, values in answer["hourly"].items() if name != "temperature_2m"}
    second.garden.web.weather = {**answer, "hourly": hourly}

    said = second.once(MORNING)

    assert (source(said), said["code"]) == ("met-norway", 0)
    assert "temperature_2m" in second.garden.facts()["poll.failed"]


def test_the_terms_are_kept_from_process_to_process(second: Norway) -> None:
    """No request before the answer expires; then one that only confirms it; what was confirmed is stored once."""
    garden = second.garden
    garden.plant(weather=FROM_NORWAY, trees=("pine",))
    for minutes in (0, 10, 20, 29):
        said = second.once(MORNING + timedelta(minutes=minutes))
        assert (source(said), said["code"]) == ("met-norway", 0)
    assert len(garden.web.norway_asked) == 1

    second.once(MORNING + timedelta(minutes=31))
    second.once(MORNING + timedelta(minutes=70))

    conditional = [headers.get("if-modified-since") for _, headers in garden.web.norway_asked]
    assert conditional == [None, "Thu, 05 Nov 2026 07:00:00 GMT", "Thu, 05 Nov 2026 07:00:00 GMT"]
    with Database.open_for_reading(garden.database, MORNING) as database, database.snapshot(MORNING) as snapshot:
        assert snapshot.number("SELECT count(*) FROM forecast WHERE source = 'met-norway'") == 2
        assert snapshot.number("SELECT count(*) FROM fetch") == 3
    assert garden.web.asked == []


def test_the_first_source_may_be_norway_and_the_other_stands_in(second: Norway) -> None:
    garden = second.garden
    garden.plant(weather=FROM_NORWAY)
    garden.web.norway = None
    garden.web.ensemble = with_members(hard_night(), 6)

    said = garden.once(CALL)

    assert source(said) == "open-meteo"
    assert said["notices"][0]["body"].endswith("From Open-Meteo, as MET Norway does not answer.")


def test_as_the_first_source_nothing_is_said_of_it_in_messages(second: Norway) -> None:
    second.garden.plant(weather=FROM_NORWAY)

    said = second.once(CALL)

    assert kinds(said) == ["call"]
    assert "MET Norway" not in said["notices"][0]["body"]


@pytest.mark.parametrize("more", ["", f'{CONTACT}\nfallback = "none"'])
def test_it_is_not_asked_without_a_contact_or_when_it_is_not_wanted(second: Norway, more: str) -> None:
    second.garden.plant(weather=more, trees=("pine",))
    second.garden.web.weather_status = 400

    said = second.once(MORNING)

    assert said["judged_on"] is None
    assert second.garden.web.norway_asked == []


def test_when_both_fail_both_reasons_are_told_and_the_newest_forecast_serves_on(second: Norway) -> None:
    second.once(MORNING)
    second.garden.web.weather_status = 400
    second.garden.web.norway = None

    said = second.once(MORNING + BY_THE_SECOND)

    assert source(said) == "open-meteo"
    (note,) = said["notes"]
    assert re.search("Open-Meteo gave none .*HTTP 400.*nor did MET Norway .*HTTP 404", note)


def test_a_dry_run_leaves_no_trace_of_having_asked(second: Norway) -> None:
    second.garden.web.weather_status = 400

    said = second.once(MORNING, "--dry-run")

    assert source(said) == "met-norway"
    assert not second.garden.database.exists()


def test_hours_between_the_last_answer_of_one_and_the_first_of_the_other_are_known(second: Norway) -> None:
    """What the first foresaw for them is kept until something better comes: no state is fed a hole."""
    second.once(MORNING)
    second.garden.web.weather_status = 400
    second.once(MORNING + timedelta(hours=9))

    second.now = MORNING + timedelta(hours=9)
    second.garden.set_clock(second.now)
    code, out, _ = second.garden.ran("outlook", "--json")

    assert code == 0
    forecast = json.loads(out)["forecast"]
    assert forecast["source"] == "met-norway"
    assert any("earlier answers of Open-Meteo" in note for note in forecast["notes"])
    # From the first hour of the first answer on: four days before the day of the cycle would be a hole at most.
    (told,) = [note for note in forecast["notes"] if note.startswith("Hours before")]
    hours = int(re.findall(r"Open-Meteo \((\d+) h\)", told)[0])
    assert hours == int((MORNING + timedelta(hours=9) - datetime(2026, 11, 4, tzinfo=UTC)) / timedelta(hours=1))


def test_an_outlook_says_whose_data_it_shows_and_asks_norway_no_more_than_its_terms_allow(second: Norway) -> None:
    """A reading command keeps what that service said, as its terms ask; the credit stands under the outlook."""
    garden = second.garden
    garden.web.weather_status = 400
    garden.set_clock(MORNING)
    for _ in range(3):
        code, out, _ = garden.ran("outlook")
        assert code == 0

    assert len(garden.web.norway_asked) == 1
    assert "(MET Norway, 0 h old)" in out
    assert "From MET Norway, as Open-Meteo does not answer; radiation and gusts are estimated." in " ".join(out.split())
    assert "Data from MET Norway (https://www.met.no/), CC BY 4.0." in out

    garden.web.weather_status = 200
    _, out, _ = garden.ran("outlook")
    assert "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0." in out


def test_an_outlook_goes_on_with_the_last_forecast_when_nothing_answers(second: Norway) -> None:
    garden = second.garden
    garden.web.norway = None
    second.once(MORNING)
    garden.web.weather_status = 400
    garden.set_clock(MORNING + timedelta(hours=2))

    code, out, _ = garden.ran("outlook", "--json")

    assert code == 0
    forecast = json.loads(out)["forecast"]
    assert (forecast["source"], forecast["age_hours"]) == ("open-meteo", 2.0)
    assert any("the last one serves" in note for note in forecast["notes"])


def test_an_outlook_without_any_forecast_says_what_came_of_asking(second: Norway) -> None:
    second.garden.web.weather_status = 400
    second.garden.web.norway = None
    second.garden.set_clock(MORNING)

    code, _, logged = second.garden.ran("outlook")

    assert code == 1
    assert "Open-Meteo gave none" in logged
    assert "MET Norway" in logged
