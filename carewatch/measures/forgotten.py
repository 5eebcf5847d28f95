"""Covers of the night that the log never ended, though nobody leaves one on for so long: they are not relied on."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC

import numpy as np

from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from carewatch.forecast.history import DailyHistory
from carewatch.measures.catalogue import Measure, parts_of, row_name

# Through a week of such days nobody leaves a night cover on: it cooks what is under it by day (judged). Kinds that cold
# above zero hurts are covered in nights that others do not feel. Daily means of air. [d], [°C]
KIND_DAYS = 7
KIND_MEAN_C, KIND_MEAN_TENDER_C = 8.0, 15.0


def relied_on(
    states: Sequence[Condition], log: Sequence[Entry], history: DailyHistory, measures: Mapping[str, Measure]
) -> tuple[tuple[Condition, ...], tuple[str, ...]]:
    """
    The trees without the covers that were forgotten in the log, and a sentence for each of those.

    log: entries up to now; history: days up to now. Whoever took a cover off and did not say so is warned of the next
    frost; whoever has it on hears once too often.
    """
    found = [_without(state, log, history, measures) for state in states]
    return tuple(state for state, _ in found), tuple(said for _, each in found for said in each)


def _without(
    state: Condition, log: Sequence[Entry], history: DailyHistory, measures: Mapping[str, Measure]
) -> tuple[Condition, list[str]]:
    begun, said = [], []
    for name in state.begun:
        parts = parts_of(name)
        gone = [part for part in parts if _comes_off_by_day(part, measures) and _was_kind(state, name, log, history)]
        said += [
            f"{part} over {state.tree.id} was never ended in the log; after a mild week it is not relied on any more."
            for part in gone
        ]
        begun += ["+".join(kept)] if (kept := [part for part in parts if part not in gone]) else []
    return (replace(state, begun=tuple(begun)), said) if said else (state, [])


def _comes_off_by_day(part: str, measures: Mapping[str, Measure]) -> bool:
    row = measures.get(row_name(part))
    return row is not None and row.hours == "night"


def _was_kind(state: Condition, name: str, log: Sequence[Entry], history: DailyHistory) -> bool:
    """Whether a mild week lies between the last time that it was put on and today."""
    mine = [e.at for e in log if e.tree == state.tree.id and e.work == "begin" and e.measure == name]
    if not mine:
        return False
    since = np.datetime64(max(mine).astimezone(UTC).date())
    kind_c = KIND_MEAN_TENDER_C if np.isfinite(state.tree.species.chill_kh[0]) else KIND_MEAN_C
    kind = (history.mean_c >= kind_c) & (history.days > since)
    sums = np.cumsum(np.concatenate([[0], kind.astype(np.int64)]))
    return bool((sums[KIND_DAYS:] - sums[:-KIND_DAYS] == KIND_DAYS).any())
