"""Secrets kept out of logs and stored errors: every loaded secret, its parts, and the forms in which they travel."""

import base64
import html
import json
import logging
import re
from collections.abc import Iterable, Iterator
from urllib.parse import quote, quote_plus, unquote, unquote_plus

STARS = "***"
# Shorter parts stand in too many harmless words.
SHORTEST = 4

# What the senders log themselves, and through what: addresses stand in their DEBUG lines, and in some WARNING lines.
_TALKATIVE = ("apprise", "requests", "urllib3")
_LOGGERS = (*_TALKATIVE, "urllib3.connection", "urllib3.connectionpool", "urllib3.poolmanager", "urllib3.util.retry")

_SCHEME = re.compile(r"\s*([a-z][a-z0-9+.-]*)://", re.IGNORECASE)
_HOST = re.compile(
    r"(\[[0-9a-f:.]+\]|[a-z0-9-]+(\.[a-z0-9-]+)+|localhost)(:\d{1,5})?|[a-z0-9-]+:\d{1,5}", re.IGNORECASE
)
# Schemes in which the first part is always a machine, be it without a dot; elsewhere it may be a token or a topic.
_HOST_FIRST = frozenset(
    "apprise form gotify hassio http json kodi mailto matrix mmost mqtt ncloud nctalk rocket signal synology "
    "xml".split()
)
# Parameters that say how to send and not to whom or with which key.
_HARMLESS_PARAMETERS = frozenset(
    "cto emojis format image level method mode optional overflow port priority redirect retry rto smtp store tz verify "
    "wait".split()
)
# Parts of addresses that are no secrets by themselves and stand in every second log line.
_ORDINARY = frozenset(
    "alert alerts carewatch error failed hook hooks http https json localhost mail message messages notice "
    "notification notifications notify plain post public push send server service services status text timeout "
    "upload user users webhook webhooks".split()
)


class Redactor:
    """
    Replaces every loaded secret in a text by three stars.

    secrets: channel addresses, passwords, tokens. Of an address its user, password, path parts, parameters and, where
    it is no machine's name, its first part are secrets too; each as it is written, percent-decoded and -encoded, and
    as HTML, JSON and basic authentication carry it. Large and small letters count as the same, because hosts and
    escapes change them on the way. Parts shorter than SHORTEST are left alone.
    """

    def __init__(self, secrets: Iterable[str]) -> None:
        self._known: set[str] = set()
        self._pattern: re.Pattern[str] | None = None
        self.learn(secrets)

    def learn(self, secrets: Iterable[str]) -> None:
        """Hide these too; what was a secret once stays one."""
        forms = {form for secret in secrets for part in _parts(secret.strip()) for form in _forms(part)}
        self._known |= {form for form in forms if len(form) >= SHORTEST}
        # The longest first: a whole address becomes one "***" and not a row of them.
        ordered = sorted(self._known, key=lambda form: (-len(form), form))
        self._pattern = re.compile("|".join(map(re.escape, ordered)), re.IGNORECASE) if ordered else None

    def __repr__(self) -> str:
        return "Redactor()"

    def text(self, text: str) -> str:
        """The text without any loaded secret."""
        pattern = self._pattern
        return pattern.sub(STARS, text) if pattern else text


class RedactingFilter(logging.Filter):
    """
    Lets every record pass, with secrets replaced in its message, arguments, traceback and stack.

    On a handler it covers whatever that handler writes; on a logger only what is logged through that very logger.
    """

    def __init__(self, redactor: Redactor) -> None:
        super().__init__()
        self._redactor = redactor
        self._formatter = logging.Formatter()

    def filter(self, record: logging.LogRecord) -> bool:
        """True, always; the record is changed in place."""
        try:
            message = record.getMessage()
        except (TypeError, ValueError, KeyError):
            # Arguments that do not fit are the caller's mistake, and no reason to show them.
            message = f"{record.msg} {record.args}"
        record.msg, record.args = self._redactor.text(message), ()
        if record.exc_info:
            record.exc_text = record.exc_text or self._formatter.formatException(record.exc_info)
            # Handlers that write tracebacks themselves would start from the exception and its secrets again.
            record.exc_info = None
        if record.exc_text:
            record.exc_text = self._redactor.text(record.exc_text)
        if record.stack_info:
            record.stack_info = self._redactor.text(record.stack_info)
        return True


def guard_loggers(redacting: RedactingFilter) -> None:
    """Put the filter on the loggers of the sending libraries, and keep them at WARNING whatever the program's level."""
    for name in _TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    for name in _LOGGERS:
        logging.getLogger(name).addFilter(redacting)


def unguard_loggers(redacting: RedactingFilter) -> None:
    """Take the filter off again; the level stays."""
    for name in _LOGGERS:
        logging.getLogger(name).removeFilter(redacting)


def _parts(secret: str) -> Iterator[str]:
    """The secret and, when it is an address, everything in it that must not be shown by itself."""
    yield secret
    scheme = _SCHEME.match(secret)
    if scheme is None:
        return
    # No fragment is cut off: "#" begins the name of a channel, or stands in a password that nobody encoded.
    address, _, query = secret[scheme.end() :].partition("?")
    yield address
    authority, _, path = address.partition("/")
    login, _, place = authority.rpartition("@")
    user, colon, password = login.partition(":")
    if colon:
        yield login
        # A password is one even when it is a common word.
        yield password
        yield base64.b64encode(f"{unquote(user)}:{unquote(password)}".encode()).decode()
    yield from _telling([user, *_of_place(scheme[1].lower(), place), *_of_path(path), *_of_query(query)])


def _telling(parts: Iterable[str]) -> Iterator[str]:
    for part in parts:
        if unquote(part).lower() not in _ORDINARY:
            yield part


def _of_place(scheme: str, place: str) -> Iterator[str]:
    if not _HOST.fullmatch(place) and scheme.removesuffix("s") not in _HOST_FIRST:
        yield place
        yield from place.split(":")


def _of_path(path: str) -> Iterator[str]:
    for part in path.split("/"):
        yield part
        # Without the sign for a kind of target (#channel, @person, +number), and one by one where it is a list.
        yield from (piece.lstrip("#@+!~=") for piece in re.split(r"[,:;]", unquote(part)))


def _of_query(query: str) -> Iterator[str]:
    for pair in query.split("&"):
        name, _, value = pair.partition("=")
        if name.lower() not in _HARMLESS_PARAMETERS:
            # "Bearer TOKEN" is a header's value in two words.
            yield value
            yield from unquote_plus(value).split()


def _forms(part: str) -> Iterator[str]:
    for value in {part, unquote(part), unquote_plus(part)}:
        once = quote(value, safe="")
        yield from (value, once, quote(value), quote_plus(value), quote(once, safe=""))
        yield from (html.escape(value), json.dumps(value)[1:-1], repr(value)[1:-1])
