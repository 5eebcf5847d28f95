"""What follows from the grower's answer to one line of a notice, as a pure function."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.alerts.danger import Danger, NoticeLine
from carewatch.alerts.wording import measure_name
from carewatch.care.log import Entry

# Notices that ask for a measure to be taken, and the one that asks for its end.
ASK_TO_BEGIN = ("call", "repeat", "worse")
ASK_TO_END = "bring-back"
# What is done at once and not left on, such as watering, is in force for the hour of the forecast that it falls into.
AT_ONCE = timedelta(hours=1)


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
    at_once: bool,
    note: str,
    now: datetime,
) -> Consequence:
    """
    What follows from an answer.

    kind: of the notice. danger: that the line is about, as it stands. standing: measures in force on the tree.
    at_once: the line's measure is done and not left on. note: for the entries, by which they are found again.
    now: in the site's zone.
    """
    if kind == ASK_TO_END:
        return _to_end(line, answer, danger, standing, note, now)
    if kind not in ASK_TO_BEGIN:
        return Consequence(danger if danger is None else replace(danger, answer=answer), (), f"noted: {answer}.")
    if danger is None or danger.state == "over":
        kept = None if danger is None else replace(danger, answer=answer)
        return Consequence(kept, (), "that danger is over; your answer is kept, and nothing is put in force by it.")
    if answer == "done":
        entries = _begun(line, standing, at_once, note, now)
        done = replace(danger, answer=answer, state="answered", in_force=bool(line.measure))
        return Consequence(done, entries, _said_of_done(line, standing, at_once, now))
    if answer == "skip":
        left = replace(danger, answer=answer, state="answered", in_force=line.measure in standing)
        return Consequence(left, (), "not this time; you will hear of it only if it gets worse by a class.")
    # "Lapsed" stays: an act-by that is past does not come back by an answer.
    state = danger.state if danger.state == "lapsed" else "raised"
    waits = replace(danger, answer=answer, state=state, in_force=line.measure in standing)
    return Consequence(waits, (), "it stays open in the rounds; you will hear if it gets worse or more urgent.")


def _to_end(
    line: NoticeLine, answer: str, danger: Danger | None, standing: Collection[str], note: str, now: datetime
) -> Consequence:
    on = line.measure in standing
    name = measure_name(line.measure)
    if answer != "done":
        kept = None if danger is None else replace(danger, answer=answer)
        return Consequence(kept, (), f"{name} stays in force until you say done." if on else "noted.")
    ended = None if danger is None else replace(danger, answer=answer, in_force=False)
    if not on:
        return Consequence(ended, (), "it was undone already.")
    return Consequence(ended, (_entry(line.tree, "end", line.measure, note, now),), f"{name} is no longer in force.")


def _begun(line: NoticeLine, standing: Collection[str], at_once: bool, note: str, now: datetime) -> tuple[Entry, ...]:
    if not line.measure or line.measure in standing:
        return ()
    # One tree stands in one place and under one cover: the new one takes the place of the old one.
    family = _family(line.measure)
    replaced = [measure for measure in standing if family and _family(measure) == family]
    ended = [_entry(line.tree, "end", measure, note, now) for measure in replaced]
    begin = _entry(line.tree, "begin", line.measure, note, now)
    over = [_entry(line.tree, "end", line.measure, note, now + AT_ONCE)] if at_once else []
    return (*ended, begin, *over)


def _family(measure: str) -> str:
    name = measure.partition(":")[0].partition("-")[0]
    return name if name in ("move", "fleece") else ""


def _entry(tree: str, work: str, measure: str, note: str, at: datetime) -> Entry:
    return Entry(tree=tree, work=work, at=at, measure=measure, note=note)


def _said_of_done(line: NoticeLine, standing: Collection[str], at_once: bool, now: datetime) -> str:
    name = measure_name(line.measure)
    if not line.measure:
        return "noted as done."
    if line.measure in standing:
        return f"{name} was in force already."
    if at_once:
        return f"{name} noted as done at {now:%H:%M}."
    return f"{name} is in force from {now:%H:%M}; you will hear when it may be undone."
