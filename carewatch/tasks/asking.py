"""Of which trees to ask whether their leaves hang: those whose roots were cut and whose leaves can tell."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from carewatch.care.log import Entry
from carewatch.condition.leaves import verdict
from carewatch.condition.now import Condition
from carewatch.condition.numbers import LeafNumbers
from carewatch.condition.recovery import CUTS_ROOTS, Opened
from carewatch.measures.candidates import MOVE
from carewatch.measures.catalogue import parts_of
from carewatch.tasks.leaf_question import LeafQuestion


def leaf_questions(
    conditions: Sequence[Condition],
    log: Sequence[Entry],
    highest_c: Mapping[date, float],
    today: date,
    numbers: LeafNumbers,
) -> tuple[LeafQuestion, ...]:
    """
    The trees to ask about, the weakest roots first; what was asked already is not known here.

    log: entries of all trees, in the site's zone. highest_c: highest air temperature of each of the last days. [°C]

    Only leaves that can hang tell anything: none of needles, none while they colour, none of roots that suffice.
    """
    found = []
    for condition in conditions:
        work = _limiting(condition, numbers.roots_suffice)
        if work is None or condition.dead or not _can_tell(condition, numbers.least_leaf):
            continue
        on = work.entry.at.date()
        looked = [
            entry.at.date()
            for entry in log
            if entry.tree == condition.tree.id and verdict(entry, numbers) and entry.at.date() > on
        ]
        hot = [
            day
            for day, air_c in highest_c.items()
            if air_c >= numbers.hot_c and on < day < today and (today - day).days <= numbers.hot_for_days
        ]
        hot_on = max(hot, default=None)
        if hot_on is not None and any(day >= hot_on for day in looked):
            hot_on = None
        third = numbers.third_day <= (today - on).days <= numbers.asked_until_day and not looked
        if third or hot_on is not None:
            found.append(
                LeafQuestion(
                    tree=condition.tree.id,
                    place=_stands_at(condition),
                    work=work.entry.work,
                    on=on,
                    hot_on=hot_on,
                    supply=condition.root_supply,
                    once_until=on + timedelta(days=numbers.asked_until_day),
                )
            )
    return tuple(sorted(found, key=lambda question: (question.supply, question.tree)))


def _stands_at(condition: Condition) -> str:
    """The place to which it was carried last and not back, else the one where it lives."""
    moves = [part for name in condition.begun for part in parts_of(name) if part.startswith(f"{MOVE}:")]
    return moves[-1].partition(":")[2] if moves else condition.place


def _limiting(condition: Condition, suffice: float) -> Opened | None:
    """The last work that cut roots and still limits them, or None."""
    cut = [
        work
        for work in condition.opened
        if work.entry.work in CUTS_ROOTS and max(work.effect.root_supply, work.root_supply) < suffice
    ]
    return max(cut, key=lambda work: work.entry.at, default=None)


def _can_tell(condition: Condition, least_leaf: float) -> bool:
    broad = condition.tree.species.leaf_class != "needle"
    return broad and condition.in_leaf and condition.leaf_area >= least_leaf and condition.stage != "colouring"
