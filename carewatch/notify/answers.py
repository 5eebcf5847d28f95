"""From what apprise answered and logged to whether a message was sent, may be tried again, or never will be."""

import re
from collections.abc import Iterable, Sequence

from apprise import AppriseResult, AppriseResultStatus

from carewatch.delivery.port import SENT, Outcome, permanent, transient
from carewatch.notify.connections import BROKE_OFF
from carewatch.notify.redaction import Redactor

LONGEST_REASON = 300
# Refusals that pass by themselves; every other 4xx wants something changed first (RFC 9110, section 15.5).
_PASSING_STATUS = frozenset({408, 409, 421, 423, 425, 429})
# The forms in which apprise's services log the status of an answer.
_STATUS = re.compile(
    r"(?:\berror=|\bstatus(?:[ _]code)?[ =:]+|\bcode[ =:]+|\bHTTP(?:/[\d.]+)?[ :]+|\()([45]\d\d)\b", re.IGNORECASE
)
# Ways in which they say that a message cannot go out as things stand.
_UNSUPPORTED = re.compile(
    r"unsupported|not support|is disabled on this system|\bthere (?:are|were|was|is) no|\bno .{1,40} specified",
    re.IGNORECASE,
)


def outcome_of(result: object, redactor: Redactor, slow_s: float) -> Outcome:
    """
    How one call of apprise for one service ended.

    result: what notify() returned. Only a full success counts as sent: nothing matched, a part, None and False do not.
    redactor: cleans the reason, which may hold what the service answered.
    slow_s: a failure without a status that took at least this long was a wait for an answer, which may be lost on its
    way back from a service that took the message. [s]
    """
    if not isinstance(result, AppriseResult):
        # What older versions return: None for "nothing matched", False for a failure.
        return permanent("nothing was sent: no service is loaded") if result is None else _failed((), redactor, False)
    lines = [entry.message for entry in result.logs()]
    if result.status == AppriseResultStatus.SUCCESS:
        return SENT
    if result.status == AppriseResultStatus.NOMATCH:
        return permanent(reason_of(lines, redactor) or "nothing was sent: no service is loaded")
    waited = result.elapsed >= slow_s
    lost = result.status in {AppriseResultStatus.TIMEOUT, AppriseResultStatus.PARTIAL} or waited or BROKE_OFF in lines
    return _failed(lines, redactor, lost)


def mentions_attachment(result: object) -> bool:
    """Whether the service or apprise complained about the attachment."""
    return isinstance(result, AppriseResult) and any("attach" in entry.message.lower() for entry in result.logs())


def reason_of(lines: Iterable[str], redactor: Redactor) -> str:
    """What was logged, as one line without secrets of at most LONGEST_REASON characters; "" when nothing was."""
    # Cleaned before it is cut: half a secret would not be recognised.
    said = redactor.text("; ".join(dict.fromkeys(line.strip() for line in lines)))
    plain = " ".join("".join(letter if letter.isprintable() else " " for letter in said).split())
    return plain if len(plain) <= LONGEST_REASON else plain[: LONGEST_REASON - 1] + "…"


def _failed(lines: Sequence[str], redactor: Redactor, lost: bool) -> Outcome:
    statuses = [int(status) for line in lines for status in _STATUS.findall(line)]
    reason = reason_of(lines, redactor) or "the service did not take the message and gave no reason"
    if statuses:
        for_good = all(status < 500 and status not in _PASSING_STATUS for status in statuses)
        return permanent(reason) if for_good else transient(reason)
    if any(_UNSUPPORTED.search(line) for line in lines):
        return permanent(reason)
    return transient(reason, may_have_arrived=lost)
