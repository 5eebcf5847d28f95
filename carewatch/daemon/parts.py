"""What a cycle is made of, and what it saw: shared by its steps."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from carewatch.alerts.logged import Logged
from carewatch.alerts.picture import Picture
from carewatch.care.garden import Garden
from carewatch.daemon.deliver import Delivery
from carewatch.daemon.forecasts import Forecasts
from carewatch.daemon.history import History
from carewatch.daemon.job import Candidate, Judged, Numbered, Task
from carewatch.delivery.channels import Channel


@dataclass(frozen=True)
class Rhythm:
    """How often the weather is asked for, and after how long without it the watch is blind."""

    refresh: timedelta
    blind_after: timedelta


@dataclass(frozen=True)
class Parts:
    """
    What a cycle is made of.

    garden: of the files alone. assessor: judges in the worker's process or in this one; raises TaskFailed.
    delivery: None for a dry run. fault: called at the seams of fault.SEAMS. jitter: a new number each time. [0-1]
    redact: a text without secrets; what services answered is stored and told only through it.
    history: the record of past weather, which is filled between cycles.
    draw: a message's picture as PNG, in the worker's process or in this one; raises TaskFailed.
    """

    garden: Garden
    tables: Numbered
    forecasts: Forecasts
    assessor: Callable[[Task], Judged]
    channels: tuple[Channel, ...]
    rhythm: Rhythm
    delivery: Delivery | None
    fault: Callable[[str], None]
    jitter: Callable[[], float]
    redact: Callable[[str], str]
    history: History
    draw: Callable[[Picture], bytes]


@dataclass(frozen=True)
class Sighted:
    """What was seen: the judgement with the log version it stands on, the candidate that served, and problems."""

    judged: Judged | None
    served: Candidate | None
    assessed_on: int
    problems: tuple[str, ...]
    # Whether the forecast that was fetched now is the one that served, and why others were passed over.
    fresh: bool = False
    passed_over: tuple[str, ...] = ()
    # Trees that are severed layers in their first year.
    layers: frozenset[str] = frozenset()
    # What the log says is in place; None where nothing was judged.
    logged: Logged | None = None
