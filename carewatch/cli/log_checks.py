"""What entries that are about to be logged have in common: their options, contradictions, and what they mean."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from carewatch.alerts.meaning import described, meaning, remark
from carewatch.care.contradictions import Contradiction, brought_in
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.cli.reports import FAILED, Refusal
from carewatch.condition.recovery import effect_of
from carewatch.condition.stage import sheds
from carewatch.config.tables import Tables
from carewatch.sqlite.care_log import StoredEntry
from carewatch.tasks.prospect import stands_at

# A layer that was severed within so many days has made no roots yet that a carry could break, and from this height on
# a place is no ground (judged). [m]
JUST_NOW, HIGH_M = timedelta(days=3), 0.2
HOW_SURE = "If it is so all the same, add --sure."


@dataclass(frozen=True)
class LogOptions:
    """
    What stood after `log`.

    word: the observation, the measure, or the number of the entry to strike or amend; second: what it is amended to.
    given: further keys of a [[tree.work]]. new: keys of a [[tree]] that is severed from this one, empty without --new.
    taken: share of the old tree's crown that goes with it. sure: what contradicts the log is so all the same.
    """

    tree: str
    work: str
    word: str | None
    given: Mapping[str, object]
    second: str | None = None
    new: Mapping[str, object] | None = None
    taken: str | None = None
    everything: bool = False
    sure: bool = False
    dry_run: bool = False
    as_json: bool = False


def logged_line(stored: StoredEntry, zone: ZoneInfo, dry_run: bool) -> str:
    """What was done and on which day, and that it is logged."""
    said = "would be logged" if dry_run else f"logged as entry {stored.number}"
    return f"{described(stored.entry)} on {stored.entry.at.astimezone(zone).date()} {said}."


def refuse_contradictions(
    garden: Garden, tree: str, before: Sequence[Entry], after: Sequence[Entry], sure: bool
) -> None:
    """
    Refuse a change of the log that brings a contradiction into it.

    before, after: the whole log. sure: what may be in spite of the rest of the log is taken as it is said.
    """
    found = brought_in(tree_of(garden, tree), before, after)
    certain = [contradiction for contradiction in found if contradiction.certain]
    told: Iterable[Contradiction] = certain or ([] if sure else found)
    lines = [str(contradiction) for contradiction in told]
    if lines:
        raise Refusal("\n".join([*lines, *([] if certain else [HOW_SURE])]), FAILED)


def meaning_of(entry: Entry, tree: Tree, whole: Iterable[Entry], garden: Garden, tables: Tables, now: datetime) -> str:
    """What an entry means for its tree, in sentences. whole: the log without it."""
    effect = effect_of(entry, tables.works, tree.species.leaf_class == "needle")
    today = now.astimezone(ZoneInfo(garden.site.time_zone)).date()
    shed = sheds(tree.species, entry.at.date(), garden.site.latitude)
    means = meaning(entry, effect, tree, garden.places.values(), today, tables.condition, shed)
    low = _on_the_ground(entry, tree, whole, garden, today)
    return " ".join(filter(None, (means, low, remark(entry, whole, garden.site.latitude))))


def _on_the_ground(entry: Entry, tree: Tree, whole: Iterable[Entry], garden: Garden, today: date) -> str:
    """The advice to set a layer down that was severed just now and stands on high, a sentence; "" otherwise."""
    if entry.work != "sever-layer" or today - entry.at.date() > JUST_NOW:
        return ""
    mine = [other for other in whole if other.tree == tree.id and other.at <= entry.at]
    place = garden.places.get(stands_at(tree, mine))
    if place is None or place.enclosed or place.height_m < HIGH_M:
        return ""
    return (
        f"Common practice stands a fresh layer on the ground, where gusts reach it less and it cannot fall; {place.id} "
        f"is {place.height_m * 100:.0f} cm high. Set it down now or leave it: later every carry breaks new roots."
    )


def tree_of(garden: Garden, name: str) -> Tree:
    """The tree with this id, which must be there."""
    return next(tree for tree in garden.trees if tree.id == name)
