"""Ends that were told and not confirmed: when danger comes again, nobody may be thought under a roof without a word."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from carewatch.alerts.answering import stands
from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Notice
from carewatch.alerts.logged import Logged
from carewatch.alerts.reasons import danger_name
from carewatch.alerts.timing import between
from carewatch.alerts.wording import day_word
from carewatch.measures.catalogue import parts_of
from carewatch.sqlite.facts import Fact
from carewatch.tasks.wording import short_day

ENDS_TOLD = "ends.told"
# The rounds of the day on which a danger begins say it, or those of the day before where it begins in the night. [h]
NEAR = timedelta(hours=24)
# Per tree and measure, when its end was told.
Ends = Mapping[str, Mapping[str, datetime]]


def ends_told(facts: Mapping[str, str], notices: Sequence[Notice], logged: Logged | None) -> Ends:
    """
    Ends that were told of what is in place by the log all the same.

    notices: new ones. logged: None where the log was not asked: then what is known stands.
    """
    found = {tree: dict(ends) for tree, ends in _read(facts).items()}
    for notice in notices:
        for line in notice.lines if notice.kind == "bring-back" else ():
            found.setdefault(line.tree, {}).update(dict.fromkeys(parts_of(line.measure), notice.created_at))
    if logged is None:
        return found
    kept = {
        tree: {part: at for part, at in ends.items() if (since := logged.get(tree, {}).get(part)) and since <= at}
        for tree, ends in found.items()
    }
    return {tree: ends for tree, ends in kept.items() if ends}


def remembered(ends: Ends) -> dict[str, Fact]:
    """What is to be remembered of them."""
    rows = {tree: {part: at.isoformat() for part, at in each.items()} for tree, each in ends.items()}
    return {ENDS_TOLD: json.dumps(rows, sort_keys=True) if rows else None}


def unconfirmed(calls: Sequence[TreeCall], ends: Ends, now: datetime) -> tuple[str, ...]:
    """
    A sentence for each tree that a near danger finds under something of which the end was told, and never answered.

    Whoever brought a tree back and said nothing would hear of no danger any more: by the log it is protected.
    now: in the site's zone.
    """
    said = []
    for call in calls:
        told = {part: at for part, at in ends.get(call.tree, {}).items() if part in parts_of(call.measure)}
        spell = min(call.met, key=lambda each: each.starts)
        if not (call.in_force and told and timedelta(0) < between(now, spell.starts) <= NEAR):
            continue
        day = short_day(max(told.values()).astimezone(now.tzinfo).date())
        ways = " and ".join(f"`carewatch log {call.tree} end {part}`" for part in told)
        said.append(
            f"{call.tree}: {danger_name(spell)} {day_word(spell.starts, now)}. By the log it {stands(list(told))} "
            f"still, though since {day} it need not. If it does not, say {ways}: you are then asked in time."
        )
    return tuple(said)


def _read(facts: Mapping[str, str]) -> dict[str, dict[str, datetime]]:
    """What is kept; nothing where it is none or broken."""
    try:
        rows = json.loads(facts.get(ENDS_TOLD, "{}"))
        return {
            str(tree): {str(part): datetime.fromisoformat(at) for part, at in each.items()}
            for tree, each in rows.items()
        }
    except (ValueError, TypeError, AttributeError):
        return {}
