"""MET Norway's Locationforecast asked by its terms of service: who asks, how precisely, how often, and what is kept."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from http import HTTPStatus

from carewatch.weather_api.http import HttpClient, Request, http_date, user_agent
from carewatch.weather_api.open_meteo import SourceOptions
from carewatch.weather_api.refused import SourceRefused

SOURCE = "met-norway"
# Source of what is done here: MET Norway, Terms of Service and HowTO of api.met.no: a User-Agent with a way to reach
# whoever asks, at most four decimals, no request before Expires, then If-Modified-Since with the very text of
# Last-Modified, a stop at 429, and gzip, which the HTTP library asks for by itself.


# About as long as their answers hold; where an answer does not say, or says so of the past.
HOLDS = timedelta(minutes=30)
# An answer that claims to hold for longer comes from a wrong clock.
LONGEST_HOLD = timedelta(hours=24)
# After a refusal: doubled from the one to the other; 403 means blocked, and asking on would only prolong it. Judged.
FIRST_STOP, LONGEST_STOP = timedelta(minutes=30), timedelta(hours=24)
# Their limit is for all installations of a program together: whoever is throttled stops at once.
_STOPPING = frozenset({int(HTTPStatus.TOO_MANY_REQUESTS)})


@dataclass(frozen=True)
class Terms:
    """
    What is to be remembered between two requests.

    asked_for: place and contact of the last request; for others nothing of this holds.
    expires_at: no request before it, aware, or None. last_modified: the text of the header of the answer that is kept.
    kept: the key under which that answer lies with whoever keeps it, or "".
    stopped_until: no request before it after a refusal, aware, or None; refusals: how many in a row; why: the last.
    """

    asked_for: str = ""
    expires_at: datetime | None = None
    last_modified: str = ""
    kept: str = ""
    stopped_until: datetime | None = None
    refusals: int = 0
    why: str = ""


@dataclass(frozen=True)
class Asked:
    """
    What came of wanting a forecast.

    document: a new answer, decoded, or None. current: the answer that is kept holds still (or was confirmed).
    asked: whether a request was made. terms: to be remembered from now on; last_modified: of a new answer.
    refused: why there is neither; wait_s: how long not to ask again. [s] notes: sentences about the service.
    """

    document: object | None
    current: bool
    asked: bool
    terms: Terms
    last_modified: str = ""
    refused: str = ""
    wait_s: float | None = None
    notes: tuple[str, ...] = ()


def terms_text(terms: Terms) -> str:
    """The terms as one line of JSON."""
    told = {name: value.isoformat() if isinstance(value, datetime) else value for name, value in vars(terms).items()}
    return json.dumps(told, ensure_ascii=False)


def terms_of(text: str | None) -> Terms:
    """The terms that a line of JSON tells; those of a first request where there is none that can be read."""
    try:
        told = json.loads(text) if text else {}
        return Terms(
            asked_for=str(told.get("asked_for", "")),
            expires_at=_moment(told.get("expires_at")),
            last_modified=str(told.get("last_modified", "")),
            kept=str(told.get("kept", "")),
            stopped_until=_moment(told.get("stopped_until")),
            refusals=int(told.get("refusals", 0)),
            why=str(told.get("why", "")),
        )
    except (ValueError, TypeError, AttributeError):
        return Terms()


def _moment(text: object) -> datetime | None:
    at = datetime.fromisoformat(text) if isinstance(text, str) else None
    return None if at is None or at.tzinfo is None else at


def met_norway_request(options: SourceOptions, last_modified: str = "") -> Request:
    """
    The request for the site, at four decimals and whole metres.

    last_modified: the text of the header of the answer that is kept, or "".
    """
    parameters = {"lat": f"{options.latitude:.4f}", "lon": f"{options.longitude:.4f}"}
    if options.elevation_m is not None:
        parameters["altitude"] = f"{options.elevation_m:.0f}"
    headers = {"If-Modified-Since": last_modified} if last_modified else {}
    return Request(options.met_norway_url, parameters, headers=headers, final_status=_STOPPING)


def ask_met_norway(options: SourceOptions, client: HttpClient, terms: Terms, kept: str, now: datetime) -> Asked:
    """
    A forecast, asked for only if the terms allow it now.

    terms: as they were remembered. kept: key of the answer that the caller can still lay hands on, or "": only then
    does it help to hear that nothing has changed. now: aware.
    """
    if user_agent(options.contact) == user_agent(""):
        why = "weather.contact is empty, and MET Norway's terms of service ask for a way to reach you"
        return Asked(None, False, False, terms, refused=why)
    asked_for = json.dumps([options.met_norway_url, *met_norway_request(options).parameters.values(), options.contact])
    if terms.asked_for != asked_for:
        terms = Terms(asked_for)
    has_kept = bool(kept) and terms.kept == kept
    stop_s = _left_s(terms.stopped_until, now)
    if stop_s:
        return Asked(None, False, False, terms, refused=f"{terms.why} (not asked again yet)", wait_s=stop_s)
    hold_s = _left_s(terms.expires_at, now)
    if hold_s and has_kept:
        return Asked(None, True, False, terms, wait_s=hold_s)
    if hold_s:
        why = "MET Norway's last answer could not be used, and its terms allow no other request yet"
        return Asked(None, False, False, terms, refused=why, wait_s=hold_s)
    return _asked(options, client, terms, has_kept, now)


def _asked(options: SourceOptions, client: HttpClient, terms: Terms, has_kept: bool, now: datetime) -> Asked:
    try:
        answer = client.get(met_norway_request(options, terms.last_modified if has_kept else ""))
    except SourceRefused as refused:
        return _stopped(refused, terms, now)
    expires_at = now + _holds(answer.headers, now)
    # What is kept stays so until whoever keeps it has taken the new answer in its place.
    held = replace(terms, expires_at=expires_at, stopped_until=None, refusals=0, why="")
    wait_s = (expires_at - now).total_seconds()
    if answer.status == HTTPStatus.NOT_MODIFIED:
        if not has_kept:
            return _stopped(
                SourceRefused("MET Norway answered that nothing has changed since nothing", True), terms, now
            )
        return Asked(None, True, True, held, wait_s=wait_s)
    notes: tuple[str, ...] = ()
    if answer.status == HTTPStatus.NON_AUTHORITATIVE_INFORMATION:
        notes = ("MET Norway says that this version of its service is deprecated: a newer carewatch is needed soon.",)
    last_modified = answer.headers.get("last-modified", "")
    return Asked(answer.document, False, True, held, last_modified, wait_s=wait_s, notes=notes)


def _stopped(refused: SourceRefused, terms: Terms, now: datetime) -> Asked:
    """A request that was refused: what it means, and until when nobody asks again."""
    why = refused.reason
    if refused.status == HTTPStatus.FORBIDDEN:
        why += ": MET Norway does not accept who asks; weather.contact must be an address of yours that works"
    elif refused.status == HTTPStatus.UNPROCESSABLE_ENTITY:
        why += ": MET Norway has no forecast for this place"
    if refused.transient and refused.status != HTTPStatus.TOO_MANY_REQUESTS:
        return Asked(None, False, True, terms, refused=why, wait_s=refused.wait_s)
    stop = min(FIRST_STOP * 2**terms.refusals, LONGEST_STOP)
    if not refused.transient:
        stop = LONGEST_STOP
    if refused.wait_s is not None:
        stop = max(stop, timedelta(seconds=refused.wait_s))
    stopped = replace(terms, stopped_until=now + stop, refusals=min(terms.refusals + 1, 10), why=why)
    return Asked(None, False, True, stopped, refused=why, wait_s=stop.total_seconds())


def _holds(headers: Mapping[str, str], now: datetime) -> timedelta:
    """How long an answer holds: by the server's own clock, which need not be ours (RFC 9111, 4.2.1)."""
    expires, sent = http_date(headers.get("expires", "")), http_date(headers.get("date", ""))
    if expires is None:
        return HOLDS
    holds = expires - (sent or now)
    return min(holds, LONGEST_HOLD) if holds > timedelta() else HOLDS


def _left_s(until: datetime | None, now: datetime) -> float:
    """Seconds until a moment; 0 when it is past, or so far ahead that it was written by a wrong clock. [s]"""
    left = (until - now).total_seconds() if until is not None else 0.0
    return left if 0.0 < left <= 2.0 * LONGEST_STOP.total_seconds() else 0.0
