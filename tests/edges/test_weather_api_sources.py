"""The whole way over a real socket: a small server on this machine that speaks the documented format."""

import gzip
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest

from carewatch.weather_api.http import HttpClient, Limits, Timing
from carewatch.weather_api.open_meteo import fetch_documents
from carewatch.weather_api.sources import (
    SourceOptions,
    SourceRefused,
    fetch_archive,
    fetch_forecast,
    read_documents,
)

NOW = datetime(2026, 1, 15, 6, 20, tzinfo=UTC)
START = int(datetime(2026, 1, 15, tzinfo=UTC).timestamp())
UNITS = {"temperature": "°C", "dew": "°C", "soil": "°C", "wind": "m/s", "cloud": "%", "relative": "%", "snowfall": "cm"}
UNITS |= {"snow_depth": "m", "surface_pressure": "hPa", "precipitation": "mm", "rain": "mm", "showers": "mm"}

Query = dict[str, str]
Answer = tuple[int, dict[str, str], bytes]


def document(query: Query, start: int, hours: int, members: int = 0) -> bytes:
    """An answer of the documented form to the query: hour h of variable v is h plus a tenth of the member's number."""
    names = query["hourly"].split(",")
    keys = [name + (f"_member{number:02d}" if number else "") for name in names for number in range(members + 1)]
    hourly: dict[str, list[float]] = {"time": [start + 3600 * hour for hour in range(hours)]}
    for key in keys:
        shift = int(key[-2:]) / 10 if "_member" in key else 0.0
        hourly[key] = [hour + shift for hour in range(hours)]
    if "surface_pressure" in hourly:
        hourly["surface_pressure"] = [1000.0] * hours
    units = {key: next((unit for name, unit in UNITS.items() if key.startswith(name)), "W/m²") for key in keys}
    place = {"latitude": float(query["latitude"]), "longitude": float(query["longitude"]), "elevation": 40.0}
    return json.dumps(
        {**place, "utc_offset_seconds": 0, "timezone": "GMT", "hourly_units": units, "hourly": hourly}
    ).encode()


class WeatherServer:
    """Answers /v1/forecast, /v1/ensemble and /v1/archive; each can be given another answer, and remembers queries."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, Query, str]] = []
        self.answers: dict[str, Callable[[Query], Answer]] = {
            "/v1/forecast": lambda query: (200, {}, document(query, START, 24)),
            "/v1/ensemble": lambda query: (200, {}, document(query, START + 2 * 3600, 10, members=4)),
            "/v1/archive": lambda query: (200, {}, document(query, START - 86400, 24)),
        }
        owner = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                """Answer as the owner says and remember what was asked."""
                parts = urlsplit(self.path)
                query = {name: values[0] for name, values in parse_qs(parts.query).items()}
                owner.asked.append((parts.path, query, self.headers["User-Agent"]))
                status, headers, body = owner.answers[parts.path](query)
                self.send_response(status)
                # A body that is shorter than announced only shows when the connection ends.
                for name, value in {"Content-Length": str(len(body)), "Connection": "close", **headers}.items():
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Nothing: a test run is silent."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        self._thread.start()
        self.root = f"http://127.0.0.1:{self._server.server_port}"

    def options(self, model: str | None = "some_eps", api_key: str = "") -> SourceOptions:
        """Options of a site whose three services are this server."""
        return SourceOptions(
            latitude=52.123456,
            longitude=-13.4,
            elevation_m=35.0,
            forecast_url=f"{self.root}/v1/forecast",
            ensemble_url=f"{self.root}/v1/ensemble",
            archive_url=f"{self.root}/v1/archive",
            api_key=api_key,
            contact="grower@example.org",
            ensemble_model=model,
        )

    def stop(self) -> None:
        """Close the port and end the thread."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


@pytest.fixture
def server() -> Iterator[WeatherServer]:
    running = WeatherServer()
    yield running
    running.stop()


@pytest.fixture
def client() -> Iterator[HttpClient]:
    """A client that does not really wait."""
    with HttpClient("grower@example.org", Limits(tries=3), Timing(sleep=lambda _: None)) as patient:
        yield patient


def test_the_request_asks_for_utc_epoch_seconds_metres_per_second_and_hours_only(server: WeatherServer) -> None:
    """A named time zone would apply today's offset to the whole answer; daily values would follow it."""
    fetch_forecast(server.options(api_key="k3y"), NOW)
    (path, query, agent), (ensemble_path, ensemble_query, _) = server.asked
    assert (path, ensemble_path) == ("/v1/forecast", "/v1/ensemble")
    for asked in (query, ensemble_query):
        assert asked["timezone"] == "GMT"
        assert asked["timeformat"] == "unixtime"
        assert asked["wind_speed_unit"] == "ms"
        assert asked["latitude"] == "52.1235"
        assert asked["elevation"] == "35"
        assert asked["apikey"] == "k3y"
        assert not {"daily", "current", "minutely_15", "cell_selection"} & set(asked)
    assert agent == "carewatch (grower@example.org)"
    assert "models" not in query
    assert ensemble_query["models"] == "some_eps"
    assert query["past_days"] == "14"
    assert len(ensemble_query["hourly"].split(",")) <= 6


def test_a_single_run_and_its_ensemble_become_one_forecast_on_the_hours_of_the_single_run(
    server: WeatherServer,
) -> None:
    forecast = fetch_forecast(server.options(), NOW)
    assert forecast.source == "open-meteo"
    assert forecast.issued_at == NOW
    assert list(forecast.single.columns) == [
        "air_temp_c",
        "dew_point_c",
        "wind_10m_ms",
        "gust_10m_ms",
        "global_wm2",
        "direct_normal_wm2",
        "diffuse_wm2",
        "cloud",
        "rain_mm",
        "snowfall_cm",
        "snow_depth_m",
        "pressure_kpa",
        "soil_temp_c",
        "relative_humidity",
    ]
    air = forecast.members["air_temp_c"]
    assert air.index.equals(forecast.single.index)
    assert air.shape == (24, 5)
    assert air.iloc[2].tolist() == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4])
    assert air.notna().all(axis=1).tolist() == [False] * 2 + [True] * 10 + [False] * 12
    assert set(forecast.members) == {"air_temp_c", "dew_point_c", "gust_10m_ms", "cloud", "rain_mm", "snowfall_cm"}
    said = forecast.notes[-1]
    assert "5 members of some_eps" in said
    assert "wind_10m_ms" in said.split("the single run serves for")[1]


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ((400, {}, b'{"error":true,"reason":"invalid String value some_eps"}'), "invalid String value some_eps"),
        ((429, {}, b'{"error":true,"reason":"Daily API request limit exceeded."}'), "Daily API request limit"),
        ((502, {}, b"<html>Bad Gateway</html>"), "HTTP 502"),
        ((200, {}, b'{"error":true,"reason":"No data is available for this location"}'), "No data is available"),
        ((200, {}, b'{"hourly":{"time":[1768435200],"cloud_cover":[1]}}'), "no air temperature"),
    ],
)
def test_a_refused_ensemble_leaves_the_single_run_alone_with_a_note(
    server: WeatherServer, client: HttpClient, answer: Answer, said: str
) -> None:
    server.answers["/v1/ensemble"] = lambda _: answer
    forecast = fetch_forecast(server.options(), NOW, client)
    assert forecast.members == {}
    assert len(forecast.single) == 24
    assert any(said in note and "The single run stands alone." in note for note in forecast.notes)


def test_an_ensemble_of_one_or_of_other_hours_is_not_used(server: WeatherServer) -> None:
    server.answers["/v1/ensemble"] = lambda query: (200, {}, document(query, START, 24))
    assert "fewer than two members" in fetch_forecast(server.options(), NOW).notes[-1]
    server.answers["/v1/ensemble"] = lambda query: (200, {}, document(query, START + 90 * 86400, 24, members=4))
    late = fetch_forecast(server.options(), NOW)
    assert late.members == {}
    assert "its hours are others" in late.notes[-1]


def test_without_a_model_the_ensemble_is_not_asked_for(server: WeatherServer) -> None:
    assert fetch_forecast(server.options(model=None), NOW).members == {}
    assert [path for path, _, _ in server.asked] == ["/v1/forecast"]


def test_a_body_that_breaks_off_on_the_wire_is_asked_for_again(server: WeatherServer, client: HttpClient) -> None:
    def broken_once(query: Query) -> Answer:
        body = document(query, START, 24)
        whole = len(server.asked) > 1
        return 200, {"Content-Length": str(len(body))}, body if whole else body[:500]

    server.answers["/v1/forecast"] = broken_once
    assert len(fetch_forecast(server.options(model=None), NOW, client).single) == 24
    assert len(server.asked) == 2


def test_a_body_that_always_breaks_off_is_refused_as_passing(server: WeatherServer, client: HttpClient) -> None:
    server.answers["/v1/forecast"] = lambda _: (200, {"Content-Length": "5000"}, b'{"hourly":')
    with pytest.raises(SourceRefused, match="broke off") as refused:
        fetch_forecast(server.options(), NOW, client)
    assert refused.value.transient
    assert len(server.asked) == 3


def test_a_small_compressed_body_that_unpacks_to_too_much_is_refused(server: WeatherServer, client: HttpClient) -> None:
    packed = gzip.compress(b" " * 50_000_000)
    assert len(packed) < 100_000
    server.answers["/v1/forecast"] = lambda _: (200, {"Content-Encoding": "gzip"}, packed)
    with pytest.raises(SourceRefused, match="larger than 8 MB") as refused:
        fetch_forecast(server.options(), NOW, client)
    assert not refused.value.transient


def test_an_answer_for_another_part_of_the_world_is_noted(server: WeatherServer) -> None:
    def elsewhere(query: Query) -> Answer:
        return 200, {}, document({**query, "latitude": "-13.4", "longitude": "52.1"}, START, 24)

    server.answers["/v1/forecast"] = elsewhere
    assert any("far from the site" in note for note in fetch_forecast(server.options(model=None), NOW).notes)


def test_the_archive_is_asked_by_dates_and_only_for_what_it_knows(server: WeatherServer) -> None:
    """An unknown name refuses the whole call; the reanalysis documents neither showers nor soil at 6 cm."""
    archive = fetch_archive(server.options(), NOW, date(2026, 1, 14), date(2026, 1, 14))
    query = server.asked[0][1]
    assert (query["start_date"], query["end_date"]) == ("2026-01-14", "2026-01-14")
    assert not {"past_days", "forecast_days"} & set(query)
    assert not {"showers", "soil_temperature_6cm"} & set(query["hourly"].split(","))
    assert archive.single["soil_temp_c"].tolist() == [float(hour) for hour in range(24)]
    assert archive.members == {}


def test_an_archive_that_ends_before_it_starts_is_never_asked_for(server: WeatherServer) -> None:
    with pytest.raises(ValueError, match="before the start"):
        fetch_archive(server.options(), NOW, date(2026, 1, 14), date(2026, 1, 13))
    assert server.asked == []


def test_a_time_without_a_zone_is_not_accepted_as_now(server: WeatherServer) -> None:
    with pytest.raises(ValueError, match="zone"):
        fetch_forecast(server.options(), NOW.replace(tzinfo=None))


def test_fetched_documents_are_plain_values_that_can_be_read_later_with_the_same_result(
    server: WeatherServer, client: HttpClient
) -> None:
    documents = fetch_documents(server.options(), client)
    assert json.loads(json.dumps(documents.single)) == documents.single
    later, at_once = read_documents(server.options(), documents, NOW), fetch_forecast(server.options(), NOW, client)
    assert later.single.equals(at_once.single)
    assert later.notes == at_once.notes


def test_fetching_needs_no_pandas() -> None:
    """The service process fetches and must stay small; parsing is left to the process that computes."""
    code = "import sys, carewatch.weather_api.open_meteo; sys.exit('pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_key_does_not_show_when_the_options_are_printed() -> None:
    assert "k3y" not in repr(SourceOptions(1.0, 2.0, api_key="k3y"))
