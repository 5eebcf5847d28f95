"""`notify test`: a test notice on every channel, and what each answered."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from carewatch.cli.acting import finished, garden_of, tell
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, refuse_unknown
from carewatch.config.load import Loaded
from carewatch.config.secrets import SecretMissing, resolve_secret
from carewatch.config.settings import ChannelSettings
from carewatch.delivery.port import Outcome, permanent
from carewatch.notify.apprise_sender import AppriseSender, HiddenText

HOW_TO_ADD = (
    "No channel is configured, so nothing could reach you. Add one to {file}:\n\n"
    "    [[notices.channel]]\n"
    '    name = "phone"\n'
    '    url = "env:CAREWATCH_PHONE"\n\n'
    "where the environment variable CAREWATCH_PHONE holds an address of your service, in the form that apprise's "
    "documentation gives for it."
)


@dataclass(frozen=True)
class ChannelDocument:
    """
    What one channel answered.

    ending: "sent", "transient" (trying again may help), "permanent" (something must be changed first), or "not tried"
    in a dry run. reason: "" when sent.
    """

    name: str
    ending: str
    reason: str
    may_have_arrived: bool


@dataclass(frozen=True)
class TestedDocument:
    """`notify test --json`."""

    version: int
    dry_run: bool
    channels: tuple[ChannelDocument, ...]


def test(
    explicit: str | None, name: str | None, environ: Mapping[str, str], now: datetime, dry_run: bool, as_json: bool
) -> int:
    """Send a test notice on every channel, or on one."""

    def action() -> int:
        loaded, _ = garden_of(explicit, environ, now)
        channels = sorted(loaded.settings.notices.channel, key=lambda channel: channel.order)
        if not channels:
            raise Refusal(HOW_TO_ADD.format(file=loaded.config_file), MISUSED)
        if name is not None:
            refuse_unknown("channel", name, (channel.name for channel in channels))
        wanted = [channel for channel in channels if name in (None, channel.name)]
        outcomes = _tested(loaded, wanted, environ, dry_run)
        rows = tuple(
            ChannelDocument(channel, "not tried", "", False)
            if outcome is None
            else ChannelDocument(channel, outcome.ending, outcome.reason, outcome.may_have_arrived)
            for channel, outcome in outcomes.items()
        )
        tell(TestedDocument(1, dry_run, rows), [_line(row) for row in rows], as_json)
        return FINE if all(row.ending in ("sent", "not tried") for row in rows) else FAILED

    return finished(action)


def _tested(
    loaded: Loaded, channels: list[ChannelSettings], environ: Mapping[str, str], dry_run: bool
) -> dict[str, Outcome | None]:
    """What each channel answered, in their order; None for one that loads and was not tried."""
    addresses: dict[str, str | HiddenText] = {}
    missing: dict[str, Outcome] = {}
    for channel in channels:
        try:
            secret = resolve_secret(channel.url, environ, Path(loaded.config_file).parent)
        except SecretMissing as refused:
            missing[channel.name] = permanent(str(refused))
        else:
            if secret is not None:
                addresses[channel.name] = secret
    sender = AppriseSender(addresses)
    try:
        if dry_run:
            unusable = {name: permanent(str(problem)) for name, problem in sender.unusable.items()}
            found: dict[str, Outcome | None] = {name: unusable.get(name) for name in addresses}
        else:
            found = {**sender.test_channels()}
    finally:
        sender.close()
    return {channel.name: missing.get(channel.name, found.get(channel.name)) for channel in channels}


def _line(row: ChannelDocument) -> str:
    if row.ending == "sent":
        return f"{row.name}: sent. The service took it; see whether it has arrived."
    if row.ending == "not tried":
        return f"{row.name}: the address can be read. Dry run: nothing was sent."
    again = "trying again may help" if row.ending == "transient" else "something must be changed first"
    arrived = " It may have arrived all the same." if row.may_have_arrived else ""
    return f"{row.name}: not sent, {again}: {row.reason.rstrip('.')}.{arrived}"
