"""What follows from the grower's answer to one line of a notice, as a pure function."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.alerts.danger import OF_ITS_PLACE, Danger, NoticeLine
from carewatch.alerts.measure_words import STATES
from carewatch.alerts.wording import ENDLESS, listed, measure_name
from carewatch.care.log import Entry
from carewatch.condition.numbers import LeafNumbers
from carewatch.measures.catalogue import parts_of

# Notices that ask for a measure to be taken, and the one that asks for its end.
ASK_TO_BEGIN = ("call", "repeat", "worse")
ASK_TO_END = "bring-back"
# The question about leaves, and what its answers say that was seen.
ASK_TO_LOOK = "question"
SEEN = {"hang": "hanging", "firm": "firm"}
# What is done at once and not left on, such as watering, is in force for the hour of the forecast that it falls into.
AT_ONCE = timedelta(hours=1)
# What stays where it is when a tree is carried away from it; mulch, jackets, ties and the like go with the tree.
LEFT_BEHIND = frozenset(
    {
        "fleece",
        "fleece-heavy",
        "fleece-double",
        "humid-tent",
        "lay-down",
        "plunge",
        "rain-cover",
        "set-down",
        "shade-cloth",
        "ventilate",
        "windbreak",
    }
)


@dataclass(frozen=True)
class Consequence:
    """
    What an answer changes.

    danger: as it is now, None where there is none. entries: to be added to the care log. said: to the grower, a
    sentence after the tree's name.
    """

    danger: Danger | None
    entries: tuple[Entry, ...]
    said: str


def consequence(
    kind: str,
    line: NoticeLine,
    answer: str,
    danger: Danger | None,
    standing: Collection[str],
    at_once: Collection[str],
    note: str,
    now: datetime,
    leaves: LeafNumbers,
) -> Consequence:
    """
    What follows from an answer.

    kind: of the notice. danger: that the line is about, as it stands. standing: measures in force on the tree.
    at_once: those parts of the line's measure that are done and not left on. note: for the entries, by which they are
    found again. now: in the site's zone. leaves: what they say of roots.
    """
    if kind == ASK_TO_END:
        return _to_end(line, answer, danger, standing, note, now)
    if kind == ASK_TO_LOOK:
        return _of_leaves(line, answer, note, now, leaves)
    if kind not in ASK_TO_BEGIN:
        return Consequence(danger if danger is None else replace(danger, answer=answer), (), f"noted: {answer}.")
    if danger is None or danger.state == "over":
        kept = None if danger is None else replace(danger, answer=answer)
        return Consequence(kept, (), "that danger is over: your answer is kept and changes nothing.")
    if answer == "done":
        entries = _begun(line, standing, at_once, note, now)
        if danger.hazard in OF_ITS_PLACE and any(_moves_to(entry) for entry in entries):
            return _moved(danger, entries)
        done = replace(danger, answer=answer, state="answered", in_force=bool(line.measure))
        return Consequence(done, entries, _said_of_done(line, standing, at_once, now))
    if answer == "skip":
        left = replace(danger, answer=answer, state="answered", in_force=_in_force(line.measure, standing))
        return Consequence(left, (), "not this time; you will hear of it again only if it becomes clearly graver.")
    return _later(danger, line, standing, now)


def _moves_to(entry: Entry) -> str:
    """The place to which a measure that begins carries its tree, or ""."""
    return _carried_to(entry.measure or "") if entry.work == "begin" else ""


def _moved(danger: Danger, entries: Sequence[Entry]) -> Consequence:
    """The tree stands elsewhere from now on: its old place harms it by itself, so that there is no way back."""
    after = tuple(
        Entry(tree=entry.tree, work="move", at=entry.at, to=to, note=entry.note) if (to := _moves_to(entry)) else entry
        for entry in entries
    )
    place = next(to for entry in entries if (to := _moves_to(entry)))
    done = replace(danger, answer="done", state="answered", in_force=True)
    return Consequence(done, after, f"it stands in {place} from now on.")


def _later(danger: Danger, line: NoticeLine, standing: Collection[str], now: datetime) -> Consequence:
    """It is asked again before its act-by; one that is past does not come back by an answer."""
    on = _in_force(line.measure, standing)
    act_by = danger.spoken_act_by
    if act_by is None or now >= act_by:
        said = "it stays open in the rounds; you will hear if it gets worse."
        return Consequence(replace(danger, answer="later", in_force=on), (), said)
    waits = replace(danger, answer="later", state="raised", in_force=on)
    when = f"{act_by.astimezone(now.tzinfo):%H:%M}"
    return Consequence(waits, (), f"it stays open in the rounds; you will be asked again before {when}.")


def _in_force(measure: str, standing: Collection[str]) -> bool:
    """Whether all that a measure is made of is in force."""
    parts = parts_of(measure)
    return bool(parts) and all(part in standing for part in parts)


def _to_end(
    line: NoticeLine, answer: str, danger: Danger | None, standing: Collection[str], note: str, now: datetime
) -> Consequence:
    on = [part for part in parts_of(line.measure) if part in standing]
    if answer != "done":
        kept = None if danger is None else replace(danger, answer=answer)
        return Consequence(kept, (), f"noted: it {stands(on)} still; say done when not." if on else "noted.")
    ended = None if danger is None else replace(danger, answer=answer, in_force=False)
    if not on:
        return Consequence(ended, (), "it was undone already.")
    entries = tuple(_entry(line.tree, "end", part, note, now) for part in on)
    return Consequence(ended, entries, f"noted: {_said_of_end(on)}.")


def _of_leaves(line: NoticeLine, answer: str, note: str, now: datetime, leaves: LeafNumbers) -> Consequence:
    if answer not in SEEN:
        return Consequence(None, (), f"noted: {answer}; once you have looked, answer hang or firm.")
    seen = Entry(tree=line.tree, work="observe", at=now, seen=SEEN[answer], note=note)
    if answer == "firm":
        return Consequence(
            None,
            (seen,),
            "good: its roots bring more water than was thought. From now on they count for "
            f"{leaves.firm_factor * 100:g} % of that, and for whole roots at most.",
        )
    return Consequence(
        None,
        (seen,),
        "its roots bring less water than was thought. From now on they count for "
        f"{leaves.hanging_factor * 100:g} % of that. If its leaves hang still at dawn, shade it and keep the wind off "
        f"it at once, and say so before {leaves.dawn_until_h}:00: carewatch log {line.tree} observe wilting.",
    )


def _begun(
    line: NoticeLine, standing: Collection[str], at_once: Collection[str], note: str, now: datetime
) -> tuple[Entry, ...]:
    new = [part for part in parts_of(line.measure) if part not in standing]
    # One tree stands in one place and under one cover: the new one takes the place of the old one.
    families = {_family(part) for part in new} - {""}
    wanted = parts_of(line.measure)
    left_behind = LEFT_BEHIND if "move" in families else frozenset()
    replaced = [part for part in standing if part not in wanted and (_family(part) in families or part in left_behind)]
    ended = [_entry(line.tree, "end", part, note, now) for part in replaced]
    begun = [_entry(line.tree, "begin", part, note, now) for part in new]
    over = [_entry(line.tree, "end", part, note, now + AT_ONCE) for part in new if part in at_once]
    return (*ended, *begun, *over)


def _family(measure: str) -> str:
    name = measure.partition(":")[0].partition("-")[0]
    return name if name in ("move", "fleece") else ""


def _entry(tree: str, work: str, measure: str, note: str, at: datetime) -> Entry:
    return Entry(tree=tree, work=work, at=at, measure=measure, note=note)


def stands(parts: Sequence[str]) -> str:
    """How a tree stands under measures, after its name: "stands in shed and is under fleece by night"."""
    return listed([f"stands in {to}" if (to := _carried_to(part)) else STATES[part] for part in parts])


def _carried_to(measure: str) -> str:
    """The place to which a measure carries a tree, or ""."""
    return measure.partition(":")[2] if measure.startswith("move:") else ""


def _said_of_end(parts: Sequence[str]) -> str:
    """What is over now, without the full stop."""
    back = [f"it is back from {to}" for part in parts if (to := _carried_to(part))]
    others = [measure_name(part) for part in parts if not _carried_to(part)]
    return "; ".join([*back, *([f"over now: {listed(others)}"] if others else [])])


def _said_of_done(line: NoticeLine, standing: Collection[str], at_once: Collection[str], now: datetime) -> str:
    parts = parts_of(line.measure)
    if not parts:
        return "noted as done."
    if _in_force(line.measure, standing):
        return f"that was noted already: it {stands(parts)}."
    if all(part in at_once for part in parts):
        return f"{measure_name(line.measure)} noted as done at {now:%H:%M}."
    noted = f"noted at {now:%H:%M}: it {stands(parts)}"
    if all(part in ENDLESS for part in parts):
        return f"{noted}."
    goes = "it may go back" if all(_carried_to(part) for part in parts) else "that may end"
    return f"{noted}; you will hear when {goes}."
