"""Notices to the person through apprise: one service per channel, one call per message, no secret in any answer."""

import logging
import re
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

import apprise
from apprise import Apprise, AppriseAsset, AttachBase, NotifyBase, NotifyType, PersistentStoreMode
from apprise.attachment.file import AttachFile

from carewatch.delivery.port import Attachment, Outcome, permanent, transient
from carewatch.delivery.timing import SEND_LIMIT
from carewatch.notify.answers import mentions_attachment, outcome_of
from carewatch.notify.connections import ConnectionFilter, unwatch_connections, watch_connections
from carewatch.notify.own_file import own_file
from carewatch.notify.redaction import RedactingFilter, Redactor, guard_loggers, unguard_loggers

LOG = logging.getLogger(__name__)

# For addresses that set none (cto=, rto=). apprise's own 4 s report a slow self-hosted service as failed although it
# took the message; estimate of what a small machine needs.
CONNECT_S = 10.0
READ_S = 20.0
TEST_TITLE = "carewatch: test"
TEST_BODY = "This is a test from carewatch. If you can read it, this channel works."

# apprise publishes no types for these two. The class itself, so that a path is never taken for an address to fetch.
_attached_file: Final[Callable[[str], AttachBase]] = AttachFile
_known_services: Final[Callable[[], Any]] = apprise.NotificationManager

_SCHEME: Final = re.compile(r"\s*([a-z0-9]{1,32})://", re.IGNORECASE)
_LOOKS: Final[Mapping[str, NotifyType]] = {
    "moderate": NotifyType.WARNING,
    "severe": NotifyType.FAILURE,
    "extreme": NotifyType.FAILURE,
}


class HiddenText(Protocol):
    """A text that does not show itself, such as pydantic's SecretStr."""

    def get_secret_value(self) -> str:
        """The text itself."""
        ...


class ChannelUnusable(Exception):
    """
    A channel whose address does not load; the text names the channel, the scheme and the remedy, never the address.

    channel: its name. scheme: what stands before "://", or "". reason: a sentence.
    """

    def __init__(self, channel: str, scheme: str, reason: str) -> None:
        place = f" ({scheme}://)" if scheme else ""
        super().__init__(f"channel {channel}{place}: {reason}")
        self.channel = channel
        self.scheme = scheme
        self.reason = reason


@dataclass
class _Loaded:
    """One channel: its service, and a lock, because a service is not made for two threads at once."""

    apprise: Apprise = field(repr=False)
    slow_s: float
    takes_files: bool
    lock: threading.Lock = field(default_factory=threading.Lock, repr=False)


class AppriseSender:
    """
    The port `delivery.port.Sender` on apprise. Safe to share between threads; one message at a time per channel.

    channels: name to address, in the order in which they are tested.
    secrets: further texts that may never be shown, such as keys and passwords of other parts.
    timeout_s: one `send` ends within it, whatever it tries inside. [s]

    While it is open, everything that the sending libraries log is redacted and kept at WARNING. A channel that does not
    load does not stop the others: it stands in `unusable`, and sending on it fails for good.
    """

    def __init__(
        self,
        channels: Mapping[str, str | HiddenText],
        secrets: Iterable[str | HiddenText] = (),
        timeout_s: float = SEND_LIMIT.total_seconds(),
    ) -> None:
        addresses = {name: _shown(address).strip() for name, address in channels.items()}
        self.redactor = Redactor([*addresses.values(), *map(_shown, secrets)])
        self._timeout_s = timeout_s
        self._redacting = RedactingFilter(self.redactor)
        self._names = tuple(addresses)
        self._loaded: dict[str, _Loaded] = {}
        self.unusable: dict[str, ChannelUnusable] = {}
        # apprise prints addresses that it cannot read: the loggers are guarded before it sees one.
        guard_loggers(self._redacting)
        self._watching = ConnectionFilter()
        watch_connections(self._watching)
        asset = _asset(timeout_s)
        for name, address in addresses.items():
            try:
                self._loaded[name] = _load(name, address, asset)
            except ChannelUnusable as problem:
                self.unusable[name] = problem

    def __repr__(self) -> str:
        return f"AppriseSender(channels={', '.join(self._names) or 'none'})"

    def close(self) -> None:
        """Stop guarding the loggers."""
        unwatch_connections(self._watching)
        unguard_loggers(self._redacting)

    def send(
        self, channel_name: str, title: str, body: str, severity: str, attachment: Attachment | None = None
    ) -> Outcome:
        """
        How one attempt on one channel ended; never raises.

        title, body: plain text. severity: of SEVERITIES; some services show it as a colour or a sign.
        attachment: on disk only while it is sent, where no other user can read it. Where the channel takes none or
        refuses the message with it, or where it cannot be written, the text goes alone.
        """
        if channel_name in self.unusable:
            return permanent(str(self.unusable[channel_name]))
        loaded = self._loaded.get(channel_name)
        if loaded is None:
            return permanent(f"there is no channel {channel_name}")
        deadline_s = time.monotonic() + self._timeout_s
        if not loaded.lock.acquire(timeout=self._timeout_s):
            return transient(f"channel {channel_name} is still busy with another message")
        try:
            if attachment is not None and loaded.takes_files:
                outcome, blamed = self._with_file(loaded, title, body, severity, attachment, deadline_s)
                if outcome.delivered or not (blamed or outcome.ending == "permanent"):
                    return outcome
            return self._attempt(loaded, title, body, severity, None, deadline_s)[0]
        finally:
            loaded.lock.release()

    def test_channels(self, title: str = TEST_TITLE, body: str = TEST_BODY) -> dict[str, Outcome]:
        """What each channel answered to a test message on the way that notices take, in the order of the channels."""
        return {name: self.send(name, title, body, "Minor") for name in self._names}

    def _with_file(
        self, loaded: _Loaded, title: str, body: str, severity: str, attachment: Attachment, deadline_s: float
    ) -> tuple[Outcome, bool]:
        """As `_attempt`; a file that cannot be made is to be blamed."""
        try:
            with own_file(attachment.name, attachment.content) as path:
                return self._attempt(loaded, title, body, severity, str(path), deadline_s)
        except OSError as error:
            LOG.warning("The picture cannot be written (%s): the message goes without it.", error.strerror)
            return transient("the attachment could not be written"), True

    def _attempt(
        self, loaded: _Loaded, title: str, body: str, severity: str, attachment: str | None, deadline_s: float
    ) -> tuple[Outcome, bool]:
        """How one call of apprise ended, and whether the attachment was blamed."""
        left_s = deadline_s - time.monotonic()
        if left_s <= 0:
            return transient("no time was left to send"), False
        try:
            # Without a body format, "<" and "&" reach services that read HTML unescaped, and the message is lost there.
            result = loaded.apprise.notify(
                body=body,
                title=title,
                notify_type=_LOOKS.get(severity.lower(), NotifyType.INFO),
                body_format="text",
                attach=_attached_file(attachment) if attachment else None,
                timeout=left_s,
            )
        except Exception as error:  # noqa: BLE001 - a plug-in that breaks must not stop the other channels
            return transient(f"the service's plug-in broke: {self.redactor.text(type(error).__name__)}"), False
        return outcome_of(result, self.redactor, loaded.slow_s), mentions_attachment(result)


def _shown(text: str | HiddenText) -> str:
    return text if isinstance(text, str) else text.get_secret_value()


def _asset(timeout_s: float) -> AppriseAsset:
    """How apprise presents this program and limits itself: nothing on disk, no pictures fetched from the internet."""
    return AppriseAsset(
        app_id="carewatch",
        app_desc="carewatch",
        app_url="",
        image_url_mask="",
        image_url_logo="",
        image_path_mask=False,
        interpret_emojis=False,
        allow_templates=False,
        secure_logging=True,
        service_timeout=timeout_s,
        storage_mode=PersistentStoreMode.MEMORY,
    )


def _load(name: str, address: str, asset: AppriseAsset) -> _Loaded:
    """The channel, ready to send. Raises ChannelUnusable."""
    match = _SCHEME.match(address)
    scheme = match[1].lower() if match else ""
    loaded = Apprise(asset=asset)
    if not loaded.add(address) or not len(loaded):
        raise ChannelUnusable(name, scheme, _why_not(scheme))
    if len(loaded) > 1:
        raise ChannelUnusable(name, scheme, "it holds several addresses: give each a channel of its own")
    service = loaded[0]
    if service.optional:
        raise ChannelUnusable(name, scheme, "optional=yes would report a lost message as sent: leave it out")
    # Tries are counted and spaced by the rules of sending, where a restart does not forget them.
    service.retry = 0
    _set_time_limits(service)
    slow_s = min(service.socket_connect_timeout, service.socket_read_timeout)
    return _Loaded(loaded, slow_s, bool(service.attachment_support))


def _set_time_limits(service: NotifyBase) -> None:
    # A limit in the address is set on the service; one that is not stands on its class alone.
    if "socket_connect_timeout" not in vars(service):
        service.socket_connect_timeout = CONNECT_S
    if "socket_read_timeout" not in vars(service):
        service.socket_read_timeout = READ_S


def _why_not(scheme: str) -> str:
    services = _known_services()
    if not scheme:
        return 'the address does not begin with a scheme, such as "mailto://"'
    if scheme not in services:
        return f"apprise {apprise.__version__} knows no such scheme: see its list of services, and mind the spelling"
    if not services[scheme].enabled:
        return "this service wants a further Python package, which is not installed"
    return (
        "the address cannot be read: compare it with apprise's page on this service, and percent-encode special signs"
    )
