"""How tasks stand: their windows, what puts them off, what ends them, and in which order they are told."""

from datetime import date
from itertools import pairwise

import pytest

from carewatch.alerts.listing import MOST_TASKS, task_lines
from carewatch.alerts.rounds import Rounds, in_rounds_hours, rounds_message, rounds_notice
from carewatch.care.log import NOTES, Entry
from carewatch.config.tables import load_tables
from carewatch.tasks.task import KINDS, LOOKS, ONLY_IN_TIME, STATES, by_urgency
from tests.condition.grown import noon, severed, tree
from tests.tasks.clocks import NUMBERS, RULES, entry, garden_of, needed, place, tasks_on

LAYER = severed("2025-09-15", tied=True)
BUSY = garden_of(
    [
        LAYER,
        entry("wire", "2026-03-20", "elm", branch="low left"),
        entry("sacrifice", "2025-04-10", "elm", branch="leader"),
        entry("repot", "2026-04-05", "pine"),
        entry("hard-prune", "2026-06-10", "elm", removed=0.4, paste=True),
        entry("set-layer", "2026-05-20", "pine", branch="top"),
    ],
    [tree(), tree("elm", "Ulmus parvifolia"), tree("pine", "Pinus", place="wall")],
    [place("bench", "bench"), place("wall", "wall"), place("shed", "shed")],
)

# The same with a layer that stands in the shade, and one that was carried into the shed.
BUSY_AND_SHADED = garden_of(
    [
        *BUSY.log,
        Entry("shaded", "sever-layer", LAYER.at, roots="sparse", tied=True),
        entry("move", "2025-11-20", "housed", to="shed"),
    ],
    [*BUSY.trees, tree("shaded", place="shade"), tree("housed")],
    [*BUSY.places.values(), place("shade", "shade")],
)


@pytest.mark.parametrize("day", ["2025-11-01", "2026-03-01", "2026-06-15", "2026-08-25", "2026-12-20", "2027-04-20"])
def test_every_task_is_whole_and_stands_in_its_window(day: str) -> None:
    """Whatever the season: first, best and last in order, a reason, what moves it, a source, a state that fits."""
    today = date.fromisoformat(day)
    found = tasks_on(day, BUSY)

    for task in found:
        assert task.first <= task.best <= task.last, task
        assert task.kind in KINDS
        assert task.state in STATES
        assert task.reason.endswith(".")
        assert task.moves.endswith(".")
        assert task.source
        assert "will die" not in task.reason + task.moves
        if task.state == "due":
            assert task.first <= today <= task.last
        if task.state == "overdue":
            assert task.last < today
        if task.state in ("soon", "later"):
            assert today < task.first
        if task.state == "soon":
            assert (task.first - today).days <= 28
    assert all(by_urgency(first) <= by_urgency(second) for first, second in pairwise(found))


def test_every_kind_of_task_comes_up_where_there_is_cause() -> None:
    """From the ties of a layer to the heat of its second summer."""
    found = {task.kind for month in range(1, 25) for task in tasks_on(_first_of(month), BUSY_AND_SHADED)}

    assert found == set(KINDS)


def _first_of(month: int) -> str:
    """The first day of a month counted from October 2025 on."""
    year, number = divmod(month + 8, 12)
    return f"{2025 + year}-{number + 1:02d}-01"


def test_the_same_garden_has_the_same_tasks_twice() -> None:
    """Nothing by chance, nothing kept in between."""
    assert tasks_on("2026-06-15", BUSY) == tasks_on("2026-06-15", BUSY)


def test_a_task_that_is_put_off_rests_until_its_day_and_comes_back() -> None:
    log = [LAYER, entry("put-off", "2026-10-01", measure="untie", due=date(2026, 10, 20))]
    resting = needed("2026-10-10", "untie", garden_of(log))

    assert (resting.state, resting.put_off_to) == ("put-off", date(2026, 10, 20))
    back = needed("2026-10-21", "untie", garden_of(log))
    assert (back.state, back.put_off_to) == ("due", None)


def test_a_task_that_is_put_off_without_a_day_rests_for_two_weeks() -> None:
    log = [LAYER, entry("put-off", "2026-10-01", measure="untie")]

    assert needed("2026-10-14", "untie", garden_of(log)).state == "put-off"
    assert needed("2026-10-15", "untie", garden_of(log)).state == "due"


def test_one_branch_is_put_off_and_the_other_is_not() -> None:
    log = [
        entry("wire", "2026-03-20", branch="low left"),
        entry("wire", "2026-03-20", branch="apex"),
        entry("put-off", "2026-06-20", measure="wire-check", branch="apex", due=date(2026, 7, 20)),
    ]
    states = {task.about: task.state for task in tasks_on("2026-07-01", garden_of(log)) if task.kind == "wire-check"}

    assert states["apex"] == "put-off"
    assert states["low left"] in ("due", "overdue")


def test_a_dead_tree_has_no_tasks() -> None:
    assert tasks_on("2026-06-15", garden_of([LAYER, entry("observe", "2026-06-01", seen="dead")])) == ()


def test_an_observation_moves_what_hangs_on_the_season() -> None:
    """The leaf is out three weeks early: what waits for flush comes with it."""
    early = [LAYER, entry("observe", "2026-04-05", seen="leaf-out")]
    plain = needed("2026-04-06", "second-shade", garden_of([LAYER]))

    assert needed("2026-04-06", "second-shade", garden_of(early)).best == date(2026, 4, 5) < plain.best


def test_what_makes_sense_only_in_its_time_leaves_the_list() -> None:
    """A second shade that was never given in spring is no task in autumn; ties stay a task."""
    found = {task.kind: task for task in tasks_on("2026-11-20", garden_of([LAYER]))}

    assert not set(ONLY_IN_TIME) & {kind for kind, task in found.items() if task.state == "overdue"} - {"end-shade"}
    assert found["untie"].state in ("due", "overdue")


def test_names_of_tasks_are_those_that_the_log_takes() -> None:
    """Looks come again after `checked`; any task can be put off."""
    assert {"checked", "put-off"} <= set(NOTES)
    assert set(LOOKS) <= set(KINDS)
    assert set(NUMBERS.kindest) == set(KINDS)
    assert load_tables().tasks.sources.keys() >= {
        "untie",
        "ties",
        "wire",
        "shade",
        "sacrifice",
        "winter",
        "uncover",
        "summer",
    }


def test_the_rounds_name_at_most_three_tasks_and_count_the_others() -> None:
    found = [task for task in tasks_on("2026-08-25", BUSY) if task.state in ("due", "overdue")]
    lines = task_lines(found)

    assert len(lines) <= MOST_TASKS + 1
    assert lines[0].startswith(f"{found[0].tree} ({found[0].place}): {found[0].title}")
    many = [found[0], *(type(found[0])(**{**vars(found[0]), "about": str(count)}) for count in range(5))]
    assert task_lines(many)[-1] == "And 3 more: see `carewatch tasks`."
    assert task_lines([]) == []


def test_tasks_alone_are_told_on_mondays_and_ride_along_on_any_day() -> None:
    """They have weeks: no day is noisy, and none is overlooked."""
    due = tuple(task for task in tasks_on("2026-10-20", garden_of([LAYER])) if task.state == "due")
    monday, tuesday = (noon(day).replace(hour=8) for day in ("2026-10-19", "2026-10-20"))
    assert monday.weekday() == 0

    notice = rounds_notice(Rounds(monday, (), (), (), 0, due), RULES)
    assert notice is not None
    assert "take the ties off" in notice.body
    assert rounds_notice(Rounds(tuesday, (), (), (), 0, due), RULES) is None
    assert rounds_notice(Rounds(monday, (), (), (), 0), RULES) is None
    assert "take the ties off" in rounds_message(Rounds(tuesday, (), (), (), 2, due)).body
    assert not in_rounds_hours(monday.replace(hour=6), RULES)
