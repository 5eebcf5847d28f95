"""
The terms of service of MET Norway, kept over a real socket: who asks, how precisely, how often, and what is sent again.

Source of every rule: MET Norway, api.met.no, Terms of Service, HowTO and FAQ.
"""

import gzip
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest

from carewatch.weather_api.http import HttpClient, Limits, Timing
from carewatch.weather_api.met_norway import (
    FIRST_STOP,
    HOLDS,
    LONGEST_STOP,
    Terms,
    ask_met_norway,
    terms_of,
    terms_text,
)
from carewatch.weather_api.open_meteo import SourceOptions
from tests.edges.invented_norway import encoded, norway

NOW = datetime(2026, 11, 5, 12, 20, tzinfo=UTC)
# The server's clock is two hours wrong: only the span between its own two dates means anything.
SERVER_NOW = NOW + timedelta(hours=2)
LAST_MODIFIED = "Thu, 05 Nov 2026 12:01:07 GMT"
BODY = encoded(norway(NOW.replace(minute=0), NOW - timedelta(hours=4)))

Answer = tuple[int, dict[str, str], bytes]


def fresh(holds: timedelta = timedelta(minutes=34)) -> Answer:
    expires = format_datetime(SERVER_NOW + holds, usegmt=True)
    headers = {"Expires": expires, "Last-Modified": LAST_MODIFIED, "Date": format_datetime(SERVER_NOW, usegmt=True)}
    return 200, headers, BODY


class Norway:
    """A server that answers as it is told, and remembers what it was asked."""

    def __init__(self) -> None:
        self.answer: Callable[[dict[str, str]], Answer] = lambda _: fresh()
        self.asked: list[tuple[dict[str, str], dict[str, str]]] = []
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                """Answer and remember."""
                query = {name: values[0] for name, values in parse_qs(urlsplit(self.path).query).items()}
                headers = {name.lower(): value for name, value in self.headers.items()}
                owner.asked.append((query, headers))
                status, more, body = owner.answer(headers)
                self.send_response_only(status)
                for name, value in more.items():
                    self.send_header(name, value)
                if status != 304:
                    self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Nothing: a test run is silent."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        self._thread.start()
        self.options = SourceOptions(
            latitude=52.390649,
            longitude=-13.06451,
            elevation_m=35.4,
            met_norway_url=f"http://127.0.0.1:{self._server.server_port}/complete",
            contact="grower@example.org",
        )

    def stop(self) -> None:
        """Close the port and end the thread."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


@pytest.fixture
def server() -> Iterator[Norway]:
    running = Norway()
    yield running
    running.stop()


@pytest.fixture
def client(server: Norway) -> Iterator[HttpClient]:
    """A client that does not really wait."""
    with HttpClient(server.options.contact, Limits(tries=3), Timing(sleep=lambda _: None)) as patient:
        yield patient


def kept(terms: Terms) -> Terms:
    """The terms after whoever asked has kept the answer, under the key "7"."""
    return replace(terms, kept="7", last_modified=LAST_MODIFIED)


def test_it_says_who_asks_with_four_decimals_and_whole_metres_and_takes_compressed_answers(
    server: Norway, client: HttpClient
) -> None:
    """More decimals are refused with 403, a library's own name as well; gzip is asked of every client."""
    server.answer = lambda _: (200, {**fresh()[1], "Content-Encoding": "gzip"}, gzip.compress(BODY))

    asked = ask_met_norway(server.options, client, Terms(), "", NOW)

    ((query, headers),) = server.asked
    assert query == {"lat": "52.3906", "lon": "-13.0645", "altitude": "35"}
    assert headers["user-agent"] == "carewatch (grower@example.org)"
    assert "gzip" in headers["accept-encoding"]
    assert "if-modified-since" not in headers
    assert asked.document is not None
    assert asked.last_modified == LAST_MODIFIED


@pytest.mark.parametrize("contact", ["", "   ", "()"])
def test_without_a_contact_nobody_is_asked(server: Norway, client: HttpClient, contact: str) -> None:
    asked = ask_met_norway(replace(server.options, contact=contact), client, Terms(), "", NOW)

    assert "weather.contact is empty" in asked.refused
    assert server.asked == []


def test_nothing_is_asked_before_the_answer_expires_by_the_server_s_own_clock(
    server: Norway, client: HttpClient
) -> None:
    terms = kept(ask_met_norway(server.options, client, Terms(), "", NOW).terms)

    early = ask_met_norway(server.options, client, terms, "7", NOW + timedelta(minutes=33))
    assert (early.current, early.asked, len(server.asked)) == (True, False, 1)
    assert early.wait_s == pytest.approx(60.0)

    later = ask_met_norway(server.options, client, terms, "7", NOW + timedelta(minutes=35))
    assert (later.asked, len(server.asked)) == (True, 2)


def test_afterwards_it_is_asked_with_the_very_text_of_last_modified_and_a_304_confirms_what_is_kept(
    server: Norway, client: HttpClient
) -> None:
    terms = kept(ask_met_norway(server.options, client, Terms(), "", NOW).terms)
    server.answer = lambda headers: (304, fresh()[1], b"") if "if-modified-since" in headers else fresh()
    later = NOW + timedelta(hours=1)

    confirmed = ask_met_norway(server.options, client, terms, "7", later)

    assert server.asked[-1][1]["if-modified-since"] == LAST_MODIFIED
    assert (confirmed.current, confirmed.asked, confirmed.document) == (True, True, None)
    assert confirmed.terms.expires_at == later + timedelta(minutes=34)
    assert (confirmed.terms.kept, confirmed.terms.last_modified) == ("7", LAST_MODIFIED)


def test_what_is_not_kept_any_more_is_asked_for_whole(server: Norway, client: HttpClient) -> None:
    """A database that was restored from a backup holds another answer than the terms speak of."""
    terms = kept(ask_met_norway(server.options, client, Terms(), "", NOW).terms)

    ask_met_norway(server.options, client, terms, "6", NOW + timedelta(hours=1))

    assert "if-modified-since" not in server.asked[-1][1]


def test_another_place_or_contact_is_another_request(server: Norway, client: HttpClient) -> None:
    """A grower who corrects a contact that was refused need not wait for tomorrow."""
    server.answer = lambda _: (403, {}, b"<html>no</html>")
    terms = ask_met_norway(server.options, client, Terms(), "", NOW).terms

    ask_met_norway(server.options, client, terms, "", NOW)
    assert len(server.asked) == 1
    ask_met_norway(replace(server.options, contact="other@example.org"), client, terms, "", NOW)
    ask_met_norway(replace(server.options, latitude=1.0), client, terms, "", NOW)
    assert len(server.asked) == 3


def test_a_throttled_client_stops_at_once_and_for_longer_each_time(server: Norway, client: HttpClient) -> None:
    """One request, though the client would try three times."""
    server.answer = lambda _: (429, {}, b"<html>slow down</html>")
    terms, now = Terms(), NOW
    for number in range(1, 4):
        asked = ask_met_norway(server.options, client, terms, "", now)
        assert len(server.asked) == number
        wait = FIRST_STOP * 2 ** (number - 1)
        assert asked.wait_s == wait.total_seconds()
        meanwhile = ask_met_norway(server.options, client, asked.terms, "", now + timedelta(minutes=29))
        assert ("HTTP 429" in meanwhile.refused, len(server.asked)) == (True, number)
        terms, now = asked.terms, now + wait + timedelta(seconds=1)
    server.answer = lambda _: fresh()
    assert ask_met_norway(server.options, client, terms, "", now).terms.refusals == 0


def test_a_wait_that_is_asked_for_is_kept(server: Norway, client: HttpClient) -> None:
    server.answer = lambda _: (429, {"Retry-After": "7200"}, b"")

    assert ask_met_norway(server.options, client, Terms(), "", NOW).wait_s == 7200.0


@pytest.mark.parametrize(("status", "said"), [(403, "weather.contact"), (422, "no forecast for this place")])
def test_a_refusal_for_good_says_what_to_change_and_is_not_repeated_for_a_day(
    server: Norway, client: HttpClient, status: int, said: str
) -> None:
    server.answer = lambda _: (status, {}, b"<html>no</html>")

    asked = ask_met_norway(server.options, client, Terms(), "", NOW)

    assert said in asked.refused
    assert (asked.wait_s, len(server.asked)) == (LONGEST_STOP.total_seconds(), 1)


def test_an_outage_is_no_refusal(server: Norway, client: HttpClient) -> None:
    """It may be over in minutes: what was remembered stays."""
    server.answer = lambda _: (503, {}, b"")
    before = kept(Terms(expires_at=NOW - timedelta(hours=1)))

    asked = ask_met_norway(server.options, client, before, "7", NOW)

    assert "HTTP 503" in asked.refused
    assert asked.terms.stopped_until is None


def test_a_deprecated_version_still_serves_and_is_named(server: Norway, client: HttpClient) -> None:
    server.answer = lambda _: (203, fresh()[1], BODY)

    asked = ask_met_norway(server.options, client, Terms(), "", NOW)

    assert asked.document is not None
    assert any("deprecated" in note for note in asked.notes)


@pytest.mark.parametrize("headers", [{}, {"Expires": "soon"}, {"Expires": "Thu, 05 Nov 2020 12:01:07 GMT"}])
def test_an_answer_that_does_not_say_how_long_it_holds_is_held_for_half_an_hour(
    server: Norway, client: HttpClient, headers: dict[str, str]
) -> None:
    server.answer = lambda _: (200, headers, BODY)

    assert ask_met_norway(server.options, client, Terms(), "", NOW).terms.expires_at == NOW + HOLDS


def test_a_clock_that_was_wrong_does_not_silence_the_source_for_years(server: Norway, client: HttpClient) -> None:
    terms = kept(ask_met_norway(server.options, client, Terms(), "", NOW + timedelta(days=900)).terms)

    ask_met_norway(server.options, client, terms, "7", NOW)

    assert len(server.asked) == 2


def test_what_is_remembered_survives_being_written_down(server: Norway, client: HttpClient) -> None:
    terms = kept(ask_met_norway(server.options, client, Terms(), "", NOW).terms)

    assert terms_of(terms_text(terms)) == terms


@pytest.mark.parametrize("text", [None, "", "no JSON", "[]", "7", '{"expires_at": 7}', '{"refusals": "many"}'])
def test_what_cannot_be_read_is_as_if_nothing_had_been_asked(text: str | None) -> None:
    assert terms_of(text) == Terms()
