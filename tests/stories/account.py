"""A story as text to be read and reviewed: every message and answer with its time, and what silence would have cost."""

import textwrap
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.care.garden import Garden
from tests.stories.cost import Fate, fates
from tests.stories.rules import broken
from tests.stories.story import Heard, Message, Story
from tests.stories.watch import Watch, watched_through

WIDE = 88
# What leaves say of the roots below them.
LEAVES_TOLD = ("hanging", "firm")
# What is seen on a tree so soon was there before.
FIRST_LOOK = timedelta(hours=6)


@dataclass(frozen=True)
class Told:
    """A story told. text: its account; broken: rules that it breaks, in words."""

    text: str
    broken: tuple[str, ...]
    watch: Watch


def told(story: Story) -> Told:
    """The story watched, written down and held against the rules."""
    watch = watched_through(story)
    came = _fates(watch)
    return Told(_text(watch, came), tuple(broken(watch, came)), watch)


def _fates(watch: Watch) -> tuple[Fate, ...]:
    """What became of every tree, of each from when it was there."""
    story, course, found = watch.story, watch.story.truth(), []
    assert watch.log_garden is not None
    begins, ends = watch.moment(story.watch_from), watch.moment(story.watch_to)
    for since in sorted({begins, *watch.came.values()}):
        document = course.document(since, story.past_days, (course.ends - since).days + 2)
        alone, done = (_as_it_was(garden, watch, since) for garden in (watch.unaided(since), watch.log_garden))
        came = fates(alone, done, document, since, ends)
        found += [fate for fate in came if watch.came.get(fate.tree, begins) == since]
    return tuple(found)


def _as_it_was(garden: Garden, watch: Watch, since: datetime) -> Garden:
    """The garden with what was seen at first, and what leaves told later of roots, known from the beginning."""
    assert watch.log_garden is not None
    there = {tree.id for tree in garden.trees}
    told = [
        entry
        for entry in watch.log_garden.log
        if entry.tree in there and entry.seen and (entry.seen in LEAVES_TOLD or since < entry.at < since + FIRST_LOOK)
    ]
    known = [replace(entry, at=min(entry.at, since)) for entry in told]
    others = [entry for entry in garden.log if entry not in told]
    return replace(garden, log=tuple(sorted([*others, *known], key=lambda entry: (entry.at, entry.tree))))


def _text(watch: Watch, came: tuple[Fate, ...]) -> str:
    story = watch.story
    head = [story.title, "=" * len(story.title), "", textwrap.fill(story.about, WIDE), ""]
    head.append(f"Watched from {story.watch_from} to {story.watch_to} ({story.zone}).")
    events: list[tuple[datetime, int, Message | Heard]] = [
        *((heard.at, 0, heard) for heard in watch.heard),
        *((message.at, 1, message) for message in watch.messages if not _is_vain_again(message, watch)),
    ]
    events.sort(key=lambda event: (event[0].timestamp(), event[1]))
    body = [_event(event) for _, _, event in events] or ["(Nothing was said.)"]
    return "\n".join([*head, "", "\n\n".join(body), "", *_cost(watch, came)]) + "\n"


def _is_vain_again(message: Message, watch: Watch) -> bool:
    """Whether a channel failed to take what it had failed to take before: once is enough to be read."""
    alike = [known for known in watch.messages if (known.notice, known.channel) == (message.notice, message.channel)]
    return not message.arrived and alike[0] is not message


def _event(event: Message | Heard) -> str:
    # Two hours of the night on which clocks go back have one name; the offset tells them apart.
    when = f"{event.at:%a} {event.at.day} {event.at:%b %H:%M}"
    when += f" ({event.at:%z})" if event.at.fold else ""
    if isinstance(event, Heard):
        first, *rest = event.text.splitlines()
        return "\n".join([f"-- {when}  {first}", *(f"   {line}" for line in rest)])
    how = "" if event.arrived else ", did not get through"
    chart = ", with a chart" if event.chart else ""
    head = f">> {when}  {event.kind}, {event.severity}, to {event.channel}{chart}{how}"
    return "\n".join([head, *(f"   | {line}".rstrip() for line in event.text.splitlines())])


def _cost(watch: Watch, came: tuple[Fate, ...]) -> list[str]:
    rows = [("tree", "nothing done", "as it was done", "by")]
    for fate in came:
        by = ", ".join(f"{name} {_share(lost)}" for name, lost in sorted(fate.by_hazard.items(), key=lambda x: -x[1]))
        rows.append((fate.tree, _share(fate.alone), _share(fate.done), by))
    wide = [max(len(row[column]) for row in rows) for column in range(4)]
    lines = ["What silence would have cost (share of the tree, by the weather that came)"]
    lines += [
        "  " + "  ".join([row[0].ljust(wide[0]), row[1].rjust(wide[1]), row[2].rjust(wide[2]), row[3]]).rstrip()
        for row in rows
    ]
    return lines + [f"  {tree} bears it: {why}" for tree, why in watch.story.borne.items()]


def _share(lost: float) -> str:
    """Whole per cent; what is under half of one is nothing worth telling."""
    return f"{lost * 100:.0f} %" if lost >= 0.005 else "nothing"
