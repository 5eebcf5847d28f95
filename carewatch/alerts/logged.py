"""What the care log says of what was asked for: done before it was told, undone by hand, or standing."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from carewatch.alerts.danger import OF_ITS_PLACE, Danger
from carewatch.alerts.wording import ENDLESS
from carewatch.measures.catalogue import parts_of

# Per tree, the measures that the log says are in place, each with the time of its begin.
Logged = Mapping[str, Mapping[str, datetime]]


def as_logged(danger: Danger, logged: Logged | None) -> Danger:
    """
    The danger with what was done for it as the log has it.

    logged: None where the log was not asked: then the grower's answer counts.

    What was put in place for a danger that was not told yet is done for it: its end has to be told like any other. What
    was told, and stands by the log, is in force, however little it eases by now. What was answered done and ended by
    hand since is not done any more: nothing is to be brought back, and the next hour to act is told anew.
    """
    parts = staying(danger)
    if logged is None or not parts or danger.hazard in OF_ITS_PLACE:
        return danger
    on = logged.get(danger.tree, {})
    # What began before is there for a reason of its own, or was forgotten in the log.
    acted = any(part in on and on[part] >= danger.first_seen_at for part in parts)
    if danger.spoken_at is None and danger.answer != "done":
        return replace(danger, answer="done") if danger.in_force and acted else danger
    if danger.answer != "done" and not danger.in_force:
        return replace(danger, in_force=True) if acted and all(part in on for part in parts) else danger
    if any(part in on for part in parts):
        return danger
    return replace(danger, answer="" if danger.answer == "done" else danger.answer, in_force=False)


def staying(danger: Danger) -> tuple[str, ...]:
    """The parts of what was asked for, or would be, that stay until somebody undoes them."""
    return tuple(part for part in parts_of(danger.spoken_measure or danger.measure) if part not in ENDLESS)


def still_on(danger: Danger, logged: Logged | None) -> Danger:
    """The danger with what of its measure stands yet by the log: of what was ended by hand nobody need speak."""
    on = None if logged is None else logged.get(danger.tree, {})
    measure = danger.spoken_measure or danger.measure
    kept = [part for part in parts_of(measure) if part in ENDLESS or on is None or part in on]
    return replace(danger, spoken_measure="+".join(kept)) if kept else danger
