"""Bytes to a JSON value, strictly: what is not JSON by RFC 8259 is refused with the likeliest reason."""

import json
import re
from typing import NoReturn

from carewatch.weather_api.refused import SourceRefused

# A year of every hourly variable is under 1 MB, 51 members of six variables for a week under 1 MB.
BODY_CAP_BYTES = 8 * 1024 * 1024

_BARE_NUMBER = re.compile(rb"[:\[,]\s*[+-]?(?:nan|inf(?:inity)?)\b", re.IGNORECASE)
_STREAM_ERROR = b"Unexpected error while streaming data"


def decode_json(body: bytes, origin: str, transient: bool) -> object:
    """
    The JSON value that the bytes hold.

    body: the whole answer or file, uncompressed.
    origin: what it is, as the subject of the sentence in a refusal: "The answer of api.open-meteo.com".
    transient: whether asking again may help; goes into the refusal.

    Raises SourceRefused. Python's decoder takes NaN and Infinity, which are not JSON: they are refused, since a server
    that writes them has written a place it does not cover.
    """
    if not body.strip():
        raise SourceRefused(f"{origin} is empty", transient)
    try:
        value: object = json.loads(body, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise SourceRefused(f"{origin} {_what_is_wrong(body)}", transient) from None
    return value


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(name)


def _what_is_wrong(body: bytes) -> str:
    """The likeliest reason why these bytes are not JSON, to follow the name of their origin."""
    start, end = body.lstrip()[:1], body.rstrip()[-1:]
    if start == b"<":
        return "is a web page, not JSON"
    if _STREAM_ERROR in body[-2000:]:
        return "is not complete: the server failed while it was writing it"
    if _BARE_NUMBER.search(body):
        return "is not valid JSON: it holds a bare nan or infinity, as for a place that is not covered"
    if start in (b"{", b"[") and end not in (b"}", b"]"):
        return f"is cut off after {len(body)} bytes"
    return "is not valid JSON"
