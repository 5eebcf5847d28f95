"""One requests session that asks politely: time limits, few tries, waits that the server asked for, capped bodies."""

import json
import logging
import random
import re
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from types import TracebackType
from typing import Self
from urllib.parse import quote, quote_plus, urlsplit

import requests

from carewatch.weather_api.decode import BODY_CAP_BYTES, decode_json
from carewatch.weather_api.refused import SourceRefused, one_line

_ERROR_BODY_CAP_BYTES = 64 * 1024
_CHUNK_BYTES = 64 * 1024
_RETRIED_STATUS = frozenset({408, 425, 429})
_KEY_IN_URL = re.compile(r"(api_?key=)[^&\s\"'<>]+", re.IGNORECASE)


@dataclass(frozen=True)
class Request:
    """
    One GET request.

    parameters: query parameters that may be shown.
    secret_parameters: query parameters that are sent and never shown.
    headers: beside those of the client.
    final_status: statuses after which this server is not to be asked again at once, though others might be.
    """

    url: str
    parameters: Mapping[str, str]
    secret_parameters: Mapping[str, str] = field(default_factory=dict, repr=False)
    headers: Mapping[str, str] = field(default_factory=dict)
    final_status: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Answer:
    """
    What a server answered that was no refusal.

    document: the decoded JSON body; None for 304, which has none. headers: names in small letters.
    """

    status: int
    document: object
    headers: Mapping[str, str]


@dataclass(frozen=True)
class Limits:
    """
    How patient a client is.

    tries: requests at the most, the first included; a failed one counts against a free quota too.
    total_s: from the first request to giving up, waits included. [s]
    connect_s, read_s: for one connection and for each read. [s]
    first_wait_s, longest_wait_s: back-off doubles from the one to the other. [s]
    """

    tries: int = 4
    total_s: float = 90.0
    connect_s: float = 5.0
    read_s: float = 20.0
    first_wait_s: float = 2.0
    longest_wait_s: float = 30.0


def _utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Timing:
    """
    Clock, sleep and chance, so that tests neither wait nor throw dice.

    chance: uniform in [0, 1).
    """

    sleep: Callable[[float], None] = time.sleep
    monotonic: Callable[[], float] = time.monotonic
    now: Callable[[], datetime] = _utc_now
    chance: Callable[[], float] = random.random


@dataclass(frozen=True)
class _Failure:
    """One try that gave nothing: why, whether another may help, and the wait that the server asks for. [s]"""

    reason: str
    transient: bool
    asked_wait_s: float | None = None
    status: int | None = None


class _KeyFilter(logging.Filter):
    """Keys are part of the query, and the HTTP library logs queries: at DEBUG, and at WARNING when headers break."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = _KEY_IN_URL.sub(r"\1***", record.getMessage()), ()
        return True


_KEY_FILTER = _KeyFilter()


class HttpClient:
    """
    A session for weather sources. One request runs at a time, as free services ask for; safe to share between threads.

    contact: e-mail or web address by which an operator of the service reaches whoever runs this; in the User-Agent.
    """

    def __init__(self, contact: str = "", limits: Limits | None = None, timing: Timing | None = None) -> None:
        self._limits = limits or Limits()
        self._timing = timing or Timing()
        self._session = requests.Session()
        self._session.max_redirects = 3
        self._session.headers.update({"User-Agent": user_agent(contact), "Accept": "application/json"})
        self._one_at_a_time = threading.Lock()
        logging.getLogger("urllib3.connectionpool").addFilter(_KEY_FILTER)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections that are kept open."""
        self._session.close()

    def get_json(self, request: Request) -> object:
        """
        The decoded JSON body of the first try that succeeds.

        Raises SourceRefused: transient after the last try or when the wait asked for is longer than the patience that
        is left (then with wait_s); not transient for a request that the server will not take (400, 401, 403, 404, …),
        an unusable address or a body over BODY_CAP_BYTES.
        """
        return self.get(request).document

    def get(self, request: Request) -> Answer:
        """The first answer that is no refusal, with its headers. Raises SourceRefused as `get_json` does."""
        with self._one_at_a_time:
            return self._get(request)

    def _get(self, request: Request) -> Answer:
        deadline_s = self._timing.monotonic() + self._limits.total_s
        for attempt in range(1, self._limits.tries + 1):
            outcome = self._try(request, deadline_s)
            if not isinstance(outcome, _Failure):
                return outcome
            reason = _redacted(outcome.reason, request)
            if not outcome.transient:
                raise SourceRefused(reason, transient=False, status=outcome.status)
            if outcome.status in request.final_status:
                raise SourceRefused(reason, True, outcome.asked_wait_s, outcome.status)
            wait_s = self._wait_s(attempt, outcome.asked_wait_s)
            if attempt == self._limits.tries:
                count = f"{attempt} tries" if attempt > 1 else "1 try"
                raise SourceRefused(f"{reason} (given up after {count})", True, outcome.asked_wait_s, outcome.status)
            if self._timing.monotonic() + wait_s > deadline_s:
                raise SourceRefused(
                    f"{reason} (the next try would have to wait {_spoken(wait_s)})",
                    True,
                    outcome.asked_wait_s,
                    outcome.status,
                )
            self._timing.sleep(wait_s)
        raise ValueError("Limits.tries must be 1 or more")

    def _wait_s(self, attempt: int, asked_wait_s: float | None) -> float:
        """Seconds before the next try: never less than asked, and spread so that many clients do not come at once."""
        limits, chance = self._limits, self._timing.chance()
        if asked_wait_s is not None:
            return asked_wait_s + 3.0 * chance
        doubled = limits.first_wait_s * 2.0 ** (attempt - 1)
        return float(min(doubled, limits.longest_wait_s) * (0.5 + chance))

    def _try(self, request: Request, deadline_s: float) -> Answer | _Failure:
        host = _host(request.url)
        limits = self._limits
        try:
            with self._session.get(
                request.url,
                params={**request.parameters, **request.secret_parameters},
                headers=dict(request.headers),
                timeout=(limits.connect_s, limits.read_s),
                stream=True,
            ) as response:
                cap = BODY_CAP_BYTES if response.ok else _ERROR_BODY_CAP_BYTES
                body = self._read(response, cap, deadline_s)
        except _TooSlowError:
            return _Failure(f"{host} was too slow: no complete answer within {_spoken(limits.total_s)}", True)
        except requests.Timeout:
            return _Failure(f"{host} did not answer in time", True)
        except requests.exceptions.SSLError:
            return _Failure(f"{host} showed a certificate that is not valid here and now (is the clock right?)", True)
        except requests.exceptions.ProxyError:
            return _Failure(f"the proxy on the way to {host} could not be used", True)
        except (requests.exceptions.ChunkedEncodingError, requests.exceptions.ContentDecodingError):
            return _Failure(f"the answer of {host} broke off", True)
        except requests.ConnectionError:
            return _Failure(f"{host} could not be reached", True)
        except (requests.RequestException, ValueError) as error:
            kind = type(error).__name__
            return _Failure(f"{host} cannot be asked ({kind}): check its address in the settings", False)
        if not response.ok:
            return self._refusal(host, response, body or b"")
        headers = {name.lower(): value for name, value in response.headers.items()}
        if response.status_code == HTTPStatus.NOT_MODIFIED:
            return Answer(response.status_code, None, headers)
        if body is None:
            return _Failure(f"the answer of {host} is larger than {BODY_CAP_BYTES // 1024**2} MB", False)
        try:
            document = decode_json(body, f"the answer of {host}", transient=True)
        except SourceRefused as refused:
            return _Failure(refused.reason, True)
        return Answer(response.status_code, document, headers)

    def _read(self, response: requests.Response, cap_bytes: int, deadline_s: float) -> bytes | None:
        """The uncompressed body, or None when it is longer than the cap: the rest is then not fetched."""
        if response.headers.get("Content-Length", "").isdigit() and int(response.headers["Content-Length"]) > cap_bytes:
            return None
        body = bytearray()
        for chunk in response.iter_content(_CHUNK_BYTES):
            body += chunk
            if len(body) > cap_bytes:
                return None
            if self._timing.monotonic() > deadline_s:
                raise _TooSlowError
        return bytes(body)

    def _refusal(self, host: str, response: requests.Response, body: bytes) -> _Failure:
        status = response.status_code
        said = _said(body)
        reason = f"{host} answered HTTP {status}" + (f": {said}" if said else "")
        transient = status >= 500 or status in _RETRIED_STATUS
        now = self._timing.now()
        asked = _retry_after_s(response.headers.get("Retry-After", ""), now)
        if asked is None and status == 429:
            asked = quota_wait_s(said, now)
        return _Failure(reason, transient, asked, status)


class _TooSlowError(Exception):
    pass


def ping(url: str, contact: str = "") -> None:
    """
    Ask for an address and throw the answer away: who waits there learns that this program still runs.

    contact: as for HttpClient.

    Raises SourceRefused, always transient, with no part of the address: such addresses are their own password.
    """
    limits = Limits()
    headers = {"User-Agent": user_agent(contact)}
    try:
        with requests.get(url, headers=headers, timeout=(limits.connect_s, limits.read_s), stream=True) as response:
            status = response.status_code
    except (requests.RequestException, ValueError) as error:
        raise SourceRefused(f"the address did not answer ({type(error).__name__})", transient=True) from None
    if status >= 400:
        raise SourceRefused(f"the address answered HTTP {status}", transient=True)


def user_agent(contact: str) -> str:
    """The User-Agent line: the program and who runs it. contact: anything; what a header cannot carry is dropped."""
    plain = "".join(character for character in contact if " " <= character <= "~" and character not in "()").strip()
    return f"carewatch ({plain})" if plain else "carewatch"


def quota_wait_s(reason: str, now: datetime) -> float | None:
    """
    Seconds until the counter named in an Open-Meteo reason is cleared, or None when it names none. [s]

    reason: "Minutely|Hourly|Daily|Monthly API request limit exceeded. …"; "Too many concurrent requests" names none.
    now: aware.

    The server sends no Retry-After. It clears its counters at the full minute, the full hour and 00:00 UTC.
    Source: Open-Meteo server, RateLimiter.swift.
    """
    now = now.astimezone(UTC)
    text = reason.lower()
    minute = now.replace(second=0, microsecond=0)
    if "minutely" in text:
        clears_at = minute + timedelta(minutes=1)
    elif "hourly" in text:
        clears_at = minute.replace(minute=0) + timedelta(hours=1)
    elif "daily" in text:
        clears_at = minute.replace(hour=0, minute=0) + timedelta(days=1)
    elif "monthly" in text:
        clears_at = (minute.replace(day=1, hour=0, minute=0) + timedelta(days=32)).replace(day=1)
    else:
        return None
    return (clears_at - now).total_seconds()


def _retry_after_s(header: str, now: datetime) -> float | None:
    """Seconds that a Retry-After header asks for, in either of its two forms (RFC 9110, 10.2.3), or None. [s]"""
    header = header.strip()
    if header.isascii() and header.isdigit():
        return float(header[:9])
    at = http_date(header)
    return None if at is None else max(0.0, (at - now).total_seconds())


def http_date(header: str) -> datetime | None:
    """The moment that a date in a header means (RFC 9110, 5.6.7), aware; None for anything else."""
    try:
        at = parsedate_to_datetime(header)
    except (ValueError, TypeError, OverflowError):
        return None
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def _said(body: bytes) -> str:
    """What the body of a refusal says, short and on one line; empty when it says nothing for a person."""
    if body.lstrip()[:1] == b"<":
        return "a web page instead of data"
    try:
        document = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    reason = document.get("reason") if isinstance(document, dict) else None
    return one_line(reason) if isinstance(reason, str) else ""


def _redacted(text: str, request: Request) -> str:
    for secret in request.secret_parameters.values():
        for form in {secret, quote(secret, safe=""), quote_plus(secret)} - {""}:
            text = text.replace(form, "***")
    return _KEY_IN_URL.sub(r"\1***", text)


def _host(url: str) -> str:
    """Host and port alone: an address may hold a password, and queries hold keys."""
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host:
        return "the weather source"
    return f"{host}:{port}" if port else host


def _spoken(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.0f} h"
