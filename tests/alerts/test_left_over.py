"""A tree that stays in its winter quarters is told of until a message with it has arrived."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from carewatch.alerts.danger import Notice
from carewatch.alerts.moment import MORE, with_rounds
from carewatch.alerts.plan import Plan
from carewatch.alerts.reached import Arrival
from carewatch.alerts.rounds import rounds_of
from carewatch.alerts.wording import LONGEST
from carewatch.daemon.left_over import LEFT_OVER, LeftOver, left_over, sentences
from carewatch.daemon.reached import arrivals_of
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import claim_due, mark_permanent, mark_sent, mark_transient
from carewatch.sqlite.standing import Change, Queued, save
from tests.alerts.made import RULES, Watch, at, call, kinds

STAYS = (
    "The frost is over: nothing to do, let elm stay in shed for the winter. You will hear when spring brings it out."
)
TODAY = date(2026, 11, 5)
NOW = datetime(2026, 11, 5, 7, tzinfo=UTC)


def rounds_at(now: datetime, left: LeftOver, new: tuple[str, ...] = (), carriers: tuple[Notice, ...] = ()) -> Plan:
    """What is said at a moment, with what is left of earlier days."""
    stays = (*left.texts(), *new)
    return Plan((), with_rounds(carriers, (), rounds_of((), (), (), RULES, now, stays=stays), RULES))


def remembered(left: LeftOver, said: tuple[str, ...], planned: Plan, today: date = TODAY) -> dict[str, str]:
    """The facts after a look."""
    facts = left.after(said, planned.notices, today)
    return {name: str(value) for name, value in facts.items() if value is not None}


def told() -> tuple[str, dict[str, str]]:
    """The id of the day's rounds that tell of it, and what is remembered then."""
    planned = rounds_at(at(7), LeftOver(), (STAYS,))
    assert kinds(planned.notices) == ["rounds"]
    return planned.notices[0].id, remembered(LeftOver(), (STAYS,), planned)


@pytest.mark.parametrize(
    ("arrival", "again", "waits"),
    [
        (Arrival(NOW, False), (), 0),
        (Arrival(None, True), (), 1),
        (Arrival(None, False), (STAYS,), 0),
        # Nobody is to be told anything on any channel.
        (None, (), 0),
    ],
)
def test_what_arrived_nowhere_is_said_again(arrival: Arrival | None, again: tuple[str, ...], waits: int) -> None:
    name, facts = told()
    left = left_over(facts, {} if arrival is None else {name: arrival})
    assert (left.texts(), len(left.waiting)) == (again, waits)
    next_day = rounds_at(at(7, day=6), left)
    assert kinds(next_day.notices) == ["rounds"] * len(again)
    assert all(STAYS in notice.body for notice in next_day.notices)


def test_what_a_full_message_had_no_room_for_is_said_the_next_day() -> None:
    """The call of the same minute takes all the room; on the next day it is a message of its own."""
    notice = Watch().look(at(7), call("maple", act_by=at(9), night=at(11))).notices[0]
    full = replace(notice, body=notice.body + "\n\n" + "x" * (LONGEST - len(notice.body) - 40))
    planned = rounds_at(at(7), LeftOver(), (STAYS,), (full,))
    assert planned.notices[0].body.endswith(MORE)
    facts = remembered(LeftOver(), (STAYS,), planned)
    left = left_over(facts, {})
    assert left.texts() == (STAYS,)
    assert STAYS in rounds_at(at(7, day=6), left).notices[0].body


def test_a_sentence_that_a_last_line_cut_off_counts_as_not_said() -> None:
    """Whatever shortens a message behind the plan: what is sent decides."""
    planned = rounds_at(at(7), LeftOver(), (STAYS,))
    cut = Plan((), tuple(replace(notice, body=notice.body[:40] + "…") for notice in planned.notices))
    assert left_over(remembered(LeftOver(), (STAYS,), cut), {}).texts() == (STAYS,)


def test_it_is_given_up_after_a_week_and_forgotten_once_it_arrived() -> None:
    name, facts = told()
    left = left_over(facts, {name: Arrival(None, False)})
    assert left.after((), (), TODAY + timedelta(days=6))[LEFT_OVER] is not None
    assert left.after((), (), TODAY + timedelta(days=7)) == {LEFT_OVER: None}
    assert left_over(facts, {name: Arrival(NOW, False)}).after((), (), TODAY) == {LEFT_OVER: None}


def test_while_something_else_is_asked_of_the_tree_it_waits() -> None:
    """Leave it in the shed, and carry it to the frame, are not said in one breath."""
    name, facts = told()
    left = left_over(facts, {name: Arrival(None, False)})
    assert left.texts({"elm"}) == ()
    assert left.texts({"elm-2", "shed-elm"}) == (STAYS,)
    kept = {key: str(value) for key, value in left.after((), (), TODAY).items()}
    assert left_over(kept, {}).texts() == (STAYS,)


@pytest.mark.parametrize("text", ["7", "not json", '{"a": 1}', '[["a"]]', '[["a", "soon", ""]]', "[3]", "null"])
def test_what_cannot_be_read_is_nothing(text: str) -> None:
    """What is broken in the store must not keep the day's judgement from being said."""
    assert sentences({LEFT_OVER: text}) == ()


def test_the_outbox_says_what_became_of_a_message_of_any_kind(tmp_path: Path) -> None:
    """Rounds have no lines; sent, given up, still tried."""
    planned = rounds_at(at(7), LeftOver(), (STAYS,))
    made = [
        replace(planned.notices[0], id=f"{n}" * 16, dedup=f"rounds:{n}", created_at=NOW, due_at=NOW) for n in range(4)
    ]
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        with database.transaction(NOW) as transaction:
            save(transaction, Change((), made, [Queued(notice.id, "phone", 1) for notice in made[:3]]))
        for number in range(3):
            with database.transaction(NOW) as transaction:
                row = claim_due(transaction, timedelta(minutes=2))
                assert row is not None
                if number == 0:
                    mark_sent(transaction, row)
                elif number == 1:
                    mark_permanent(transaction, row, "no such address")
                else:
                    mark_transient(transaction, row, "down", NOW + timedelta(minutes=1))
        with database.snapshot(NOW) as snapshot:
            found = arrivals_of(snapshot, [notice.id for notice in made])
    assert sorted((each.first is not None, each.open) for each in found.values()) == [
        (False, False),
        (False, True),
        (True, False),
    ]
    assert made[3].id not in found
