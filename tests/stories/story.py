"""
Stories: written scenarios that the real service lives through, with every message and its time kept for review.

A story is a module of `scenarios` with one `STORY`; `Story` says what it is made of. To write one:

1.  Garden: TOML of places, trees with their works, and stock; the pieces of `tests.outlook.gardens` and of `commons`
    are for that. Two or three trees are enough. `worth = 2` keeps a choice from hanging on a hair.
2.  Weather that really came: `days`, one `weather.Day` each from `first` on: two before `watch_from`, four after
    `watch_to`. A day's low is that of its own morning: the frost night of the 4th to the 5th is the low of the 5th.
3.  What was foreseen and when: `foreseen`, each `Said` until the next; it names only the days and numbers in which it
    differed from what came. `Said(at)` alone is right about everything.
4.  The person: `DONE`, `NOBODY`, or `Answers` of your own; `Does` gives any command at any time. `Broken` takes the
    weather service or a channel away for a while; `Plants` adds to the garden's file and starts the service anew;
    `Killed` ends the service, kindly or at a seam of its work.
5.  `python -m tests.stories NAME` tells it, `--write NAME` keeps the account in `told`; read it as the grower
    would before you commit it. `in_peace` names trees that no call may ask for. A tree that rightly loses something
    without a call stands in `borne` with the reason, which the account shows. What must hold in this story alone
    stands in `also`.

What holds in every story is in `rules`, and a story that breaks it fails: nothing but severe in quiet hours, at most
three pushes a day, one call and one bring-back per danger, worse only when it is, nothing after its act-by that could
have been said before, nothing new when a cycle is run twice, no word that is never said, and no tree lost that was
foreseen and not called for. What silence would have cost is the same engine on the weather that came, as one certain
member (`cost`).

Everything is the service's own: cycle, database, documents over a socket, answers by command, messages over a socket.
Only the clock is set, and hours are left out in which nothing but the time has changed (`watch`). A story on recorded
weather reads it in its module, with MISSING instead of STORY, the reason, where the recording is absent. A look takes
about 0.15 s: keep a watch under four days.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from tests.stories.weather import Course, Day, Spot, course_of

SITE = """config_version = 1
[site]
name = "Nowhere"
latitude = {spot.latitude}
longitude = {spot.longitude}
elevation_m = {spot.elevation_m}
time_zone = "{zone}"
surroundings = "suburban"
"""
# Fast state settles on these; a shorter past is looked at in less time (the program repeats its first day).
PAST_DAYS = 2
# A single run is dressed into 21 members; four days of it are judged in half the time of a week.
AHEAD_DAYS = 4


@dataclass(frozen=True)
class Said:
    """
    What the weather service says from a moment on, until it says something else.

    at: "2026-11-01 06:00" by the garden's clock. days: by "2026-11-05" the numbers of `Day` in which it differs from
    what really comes. all_days: the same for every day that is not named.
    """

    at: str
    days: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    all_days: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Answers:
    """
    What the person answers whenever a message of a kind arrives.

    kind: "call" stands for repeat and worse as well. answer: as for `carewatch answer`, "" for none. after: of arrival.
    trees: only for these lines; () for all. times: how often they do so, the others get no answer.
    """

    kind: str
    answer: str
    after: timedelta = timedelta(minutes=30)
    trees: tuple[str, ...] = ()
    times: int = 99


@dataclass(frozen=True)
class Does:
    """A command that the person gives. at: as Said.at; command: its words, such as "log maple water"."""

    at: str
    command: str


@dataclass(frozen=True)
class Broken:
    """What fails for a while. what: "weather" or the name of a channel; since, until: as Said.at."""

    what: str
    since: str
    until: str


@dataclass(frozen=True)
class Plants:
    """The garden's file as it is changed and the service started anew. at: as Said.at; more: TOML that is added."""

    at: str
    more: str


@dataclass(frozen=True)
class Killed:
    """
    The service is killed in the middle of its work, as by a pulled plug, and started anew.

    at: as Said.at; seam: at which of `daemon.fault`, "" for a kind end between two looks.
    """

    at: str
    seam: str = ""


@dataclass(frozen=True)
class Channel:
    """A way to the person, as in the configuration."""

    name: str = "phone"
    order: int = 1
    from_severity: str = "minor"


NOWHERE = Spot()
DONE = (Answers("call", "done"), Answers("bring-back", "done", timedelta(minutes=45)))
NOBODY: tuple[Answers, ...] = ()


@dataclass(frozen=True)
class Story:
    """
    One scenario.

    title, about: for who reads it. garden: TOML of places, trees and stock. notices: TOML lines of that section.
    first: first day of `days`, the weather that really came, PAST_DAYS before the watch begins; the last AHEAD_DAYS of
    them serve only to be foreseen. watch_from, watch_to: as Said.at. foreseen: what is said and when.
    every: the service of the weather brings something new so often.
    borne: trees that lose something without a call, and why that is right; a reason is shown in the account.
    in_peace: trees of which no call may speak.
    second_source: a second weather service stands by, which says the same.
    also: what else must hold in this story: from the `Watch` and the fates of the trees, what does not, in words.
    """

    title: str
    about: str
    garden: str
    first: str
    days: Sequence[Day]
    watch_from: str
    watch_to: str
    foreseen: Sequence[Said] = ()
    person: Sequence[Answers] = NOBODY
    does: Sequence[Does] = ()
    broken: Sequence[Broken] = ()
    plants: Sequence[Plants] = ()
    killed: Sequence[Killed] = ()
    channels: Sequence[Channel] = (Channel(),)
    notices: str = ""
    spot: Spot = NOWHERE
    zone: str = "Europe/Berlin"
    every: timedelta = timedelta(hours=6)
    past_days: int = PAST_DAYS
    ahead_days: int = AHEAD_DAYS
    borne: Mapping[str, str] = field(default_factory=dict)
    in_peace: Sequence[str] = ()
    second_source: bool = False
    also: Callable[[Any, Any], Iterable[str]] = lambda _watch, _fates: ()

    def truth(self) -> Course:
        """The weather that really came."""
        return course_of(self.spot, date.fromisoformat(self.first), self.days)

    def foretold(self, said: Said) -> Course:
        """The weather as the service believes in it."""
        first = date.fromisoformat(self.first)
        named = {(date.fromisoformat(day) - first).days: changes for day, changes in said.days.items()}
        outside = [day for day in named if not 0 <= day < len(self.days)]
        if outside:
            raise ValueError(f"{self.title}: {said.at} tells of days that are not in the story")
        days = [day.but(**{**said.all_days, **named.get(index, {})}) for index, day in enumerate(self.days)]
        return course_of(self.spot, first, days)


@dataclass(frozen=True)
class Message:
    """
    One message as it arrived, or did not.

    at: site's clock. text: title and body as the channel showed them; whole: length of the notice. [characters]
    arrived: the channel took it. chart: something was attached.
    """

    at: datetime
    kind: str
    severity: str
    channel: str
    text: str
    whole: int
    lines: tuple[tuple[str, str, str], ...]
    arrived: bool
    chart: bool
    notice: str


@dataclass(frozen=True)
class Heard:
    """Something that the person did, or that broke, in words. at: site's clock."""

    at: datetime
    text: str
