"""What the rules of sending know of a sender: one call, and the three ways in which it can end."""

from dataclasses import dataclass, field
from typing import Literal, Protocol

Ending = Literal["sent", "transient", "permanent"]


@dataclass(frozen=True)
class Outcome:
    """
    How one attempt to send ended.

    ending: "sent": the service took it. "transient": trying again may help (outage, throttling, no answer).
    "permanent": this channel will not take it until somebody changes something (refused, unknown, unsupported).
    reason: one plain line, free of secrets; empty when sent.
    may_have_arrived: not known to be sent, but the service may have taken it before the answer was lost.
    """

    ending: Ending
    reason: str = ""
    may_have_arrived: bool = False

    @property
    def delivered(self) -> bool:
        """Whether the service said that it took the message."""
        return self.ending == "sent"


SENT = Outcome("sent")


def transient(reason: str, may_have_arrived: bool = False) -> Outcome:
    """An attempt that failed and may be repeated. reason: one line without secrets."""
    return Outcome("transient", reason, may_have_arrived)


def permanent(reason: str) -> Outcome:
    """An attempt that failed and would fail again. reason: one line without secrets."""
    return Outcome("permanent", reason)


@dataclass(frozen=True)
class Attachment:
    """
    A file that goes with a message.

    name: as the person sees it, such as "frost.png". content: its bytes; a sender makes a file of its own of them, so
    that nothing else of this machine can be sent by mistake.
    """

    name: str
    content: bytes = field(repr=False)


class Sender(Protocol):
    """Whatever reaches the person, by the names of channels."""

    def send(
        self, channel_name: str, title: str, body: str, severity: str, attachment: Attachment | None = None
    ) -> Outcome:
        """
        How one attempt on one channel ended; never raises, and never takes longer than timing.SEND_LIMIT.

        title, body: plain text, which says everything by itself. severity: of SEVERITIES. attachment: left out where
        the channel takes none, or refuses the message with it.
        """
        ...
