"""Wire, sacrifices, shade, feeding, paste and turning, each in its season."""

from datetime import date, timedelta

import numpy as np
import pytest

from tests.condition.grown import severed, tree
from tests.tasks.clocks import NUMBERS, YEARS, ahead_on, entry, garden_of, needed, place, task_on, tasks_on, warmer

SEPTEMBER = "2025-09-15"
SHADED = tree(place="shade")


def test_wire_is_looked_at_from_the_fourth_week_of_strong_growth() -> None:
    """Wired in winter, nothing bites until the tree is three weeks into leaf and warmth (common practice)."""
    log = [entry("wire", "2026-01-20", branch="low left", gauge_mm=2.5)]
    task = needed("2026-02-01", "wire-check", garden_of(log))
    (prospect,) = ahead_on("2026-02-01", garden_of(log)).found
    days = prospect.lived.days
    grown = prospect.growing(NUMBERS.growth_mean_c)
    before = grown[(days > np.datetime64("2026-01-20")) & (days < np.datetime64(task.first))]

    assert np.count_nonzero(before) == 21
    assert date(2026, 4, 20) < task.first < date(2026, 6, 30)
    assert task.about == "low left"
    assert "once a week" in task.reason


def test_a_look_at_the_wire_comes_again_after_a_week_and_rests_in_winter() -> None:
    log = [entry("wire", "2026-03-20", branch="low left")]
    looked = [*log, entry("checked", "2026-06-20", measure="wire-check", branch="low left")]
    late = [*log, entry("checked", "2026-10-30", measure="wire-check")]

    assert needed("2026-06-21", "wire-check", garden_of(looked)).first == date(2026, 6, 27)
    assert needed("2026-06-29", "wire-check", garden_of(looked)).state == "due"
    assert needed("2026-11-10", "wire-check", garden_of(late)).first > date(2027, 4, 15)


def test_wire_comes_off_when_it_marks_the_bark_and_that_is_later_in_conifers() -> None:
    """Some months in broadleaves, a year or so in conifers (common practice)."""
    log = [entry("wire", "2026-03-20")]
    maple = needed("2026-04-01", "wire-off", garden_of(log))
    pine = needed("2026-04-01", "wire-off", garden_of(log, [tree(species="Pinus")]))

    assert date(2026, 6, 1) < maple.first < date(2026, 8, 1)
    assert maple.last < date(2026, 11, 15)
    assert pine.first > maple.first + timedelta(days=60)
    assert "begins to mark the bark" in maple.reason


def test_wire_that_is_off_asks_for_nothing_and_another_branch_keeps_its_own() -> None:
    log = [
        entry("wire", "2026-03-20", branch="low left"),
        entry("wire", "2026-03-20", branch="apex"),
        entry("unwire", "2026-07-01", branch="apex"),
    ]
    found = tasks_on("2026-07-25", garden_of(log))

    assert [task.about for task in found if task.kind == "wire-check"] == ["low left"]
    assert {task.about: task.state for task in found if task.kind == "wire-off"} == {"low left": "due", "apex": "done"}
    all_off = garden_of([*log, entry("unwire", "2026-07-02")])
    assert [task for task in tasks_on("2026-09-05", all_off) if "wire" in task.kind] == []


def test_a_sacrifice_goes_in_late_summer_of_the_next_year() -> None:
    """Common practice; its own date goes before, and cut-off ends it."""
    log = [entry("sacrifice", "2025-04-10", branch="leader")]
    task = needed("2026-03-01", "sacrifice-off", garden_of(log))
    own = [entry("sacrifice", "2025-04-10", branch="leader", due=date(2027, 9, 1))]
    gone = [*log, entry("cut-off", "2026-08-25", branch="leader")]

    assert date(2026, 8, 1) <= task.first < task.best < task.last <= date(2026, 9, 25)
    assert task.about == "leader"
    assert needed("2026-03-01", "sacrifice-off", garden_of(own)).best == date(2027, 9, 1)
    assert needed("2026-09-01", "sacrifice-off", garden_of(gone)).state == "done"
    assert task_on("2026-10-10", "sacrifice-off", garden_of(gone)) is None
    assert needed("2026-12-10", "sacrifice-off", garden_of(log)).state == "overdue"


def test_the_shade_of_an_autumn_layer_ends_at_dormancy_and_resumes_at_flush() -> None:
    """Shade until dormancy (common practice); May and June are its worst danger."""
    log = [severed(SEPTEMBER, tied=True)]
    garden = garden_of(log, [SHADED])
    end = needed("2025-10-01", "end-shade", garden)
    second = needed("2025-10-01", "second-shade", garden)
    (course,) = ahead_on("2025-10-01", garden).found

    assert course.on(end.first).stage == "dormant"
    assert course.on(end.first - timedelta(days=1)).stage == "colouring"
    assert "leaves are down" in end.reason
    assert course.on(second.best).stage == "flush"
    assert second.first < second.best < second.last
    assert date(2026, 4, 1) < second.best < date(2026, 5, 20)


def test_shade_ends_for_good_when_roots_supply_again() -> None:
    log = [severed(SEPTEMBER, tied=True)]
    garden = garden_of(log, [SHADED])
    end = needed("2026-05-20", "end-shade", garden)
    (found,) = ahead_on("2026-05-20", garden).found

    assert found.on(end.first).root_supply >= 0.7
    assert found.on(end.first - timedelta(days=1)).root_supply < 0.7
    assert "supply 70 %" in end.reason
    assert task_on("2026-05-20", "second-shade", garden_of(log)) is not None
    cold = needed("2026-05-20", "end-shade", garden, warmer(YEARS, -2.0))
    assert cold.first > end.first


def test_shade_that_never_was_does_not_end_and_what_came_out_is_done() -> None:
    log = [severed(SEPTEMBER, tied=True)]
    out = garden_of([*log, entry("move", "2025-11-25", to="bench")], [SHADED])
    cloth = [*log, entry("begin", "2025-09-16", measure="shade-cloth")]

    assert task_on("2025-10-01", "end-shade", garden_of(log)) is None
    assert needed("2025-10-01", "end-shade", garden_of(cloth)).state in ("soon", "later")
    ended = garden_of([*cloth, entry("end", "2025-11-20", measure="shade-cloth")])
    assert needed("2025-11-25", "end-shade", ended).state == "done"
    assert needed("2025-11-28", "end-shade", out).state == "done"


def test_second_shade_is_done_by_shade() -> None:
    log = [severed(SEPTEMBER, tied=True)]
    first = needed("2026-03-01", "second-shade", garden_of(log)).first
    shaded = garden_of([*log, entry("begin", (first + timedelta(days=1)).isoformat(), measure="shade-cloth")])
    day = (first + timedelta(days=3)).isoformat()

    assert needed(day, "second-shade", garden_of(log)).state == "due"
    assert needed(day, "second-shade", shaded).state == "done"


def test_a_root_pruned_tree_is_shaded_at_flush_and_an_untouched_one_is_not() -> None:
    pruned = garden_of([entry("root-prune", "2026-03-25", removed=0.5)])

    assert needed("2026-04-01", "second-shade", pruned).first < date(2026, 5, 20)
    assert {task.kind for task in tasks_on("2026-04-01", garden_of([]))} == {"summer-place"}


@pytest.mark.parametrize("work", ["root-prune", "repot", "sever-layer"])
def test_feeding_waits_four_to_six_weeks_after_root_work_and_for_growth(work: str) -> None:
    """And none after late summer: late nitrogen delays hardening (common practice)."""
    removed, roots = (0.3 if work == "root-prune" else None), ("fair" if work == "sever-layer" else None)
    spring = needed(
        "2026-05-25", "resume-feeding", garden_of([entry(work, "2026-05-20", removed=removed, roots=roots)])
    )
    autumn = needed(
        "2026-09-20", "resume-feeding", garden_of([entry(work, "2026-09-10", removed=removed, roots=roots)])
    )

    assert spring.first == date(2026, 6, 17)
    assert spring.best == date(2026, 7, 1)
    assert spring.last < date(2026, 9, 5)
    assert autumn.first > date(2027, 4, 1)


def test_feeding_is_done_when_it_is_logged() -> None:
    log = [entry("repot", "2026-05-20"), entry("feed", "2026-06-25")]

    assert needed("2026-06-26", "resume-feeding", garden_of(log)).state == "done"
    assert task_on("2026-09-26", "resume-feeding", garden_of(log)) is None


def test_cut_paste_is_looked_at_after_it_has_set() -> None:
    """Rain-fast after one to two days (common practice); a look, or a new seal, ends it."""
    log = [entry("hard-prune", "2026-06-10", removed=0.5, paste=True)]
    task = needed("2026-06-11", "paste-check", garden_of(log))
    looked = garden_of([*log, entry("checked", "2026-06-14", measure="paste-check")])

    assert (task.first, task.last, task.state) == (date(2026, 6, 12), date(2026, 6, 24), "soon")
    assert needed("2026-06-15", "paste-check", looked).state == "done"
    assert task_on("2026-08-15", "paste-check", garden_of(log)) is None
    bare = garden_of([entry("hard-prune", "2026-06-10", removed=0.5)])
    assert task_on("2026-06-11", "paste-check", bare) is None


def test_pots_in_one_sided_light_are_turned_in_growth_and_others_never() -> None:
    wall = garden_of([], [tree(place="wall")], [place("wall", "wall")])
    task = needed("2026-04-01", "turn", wall)
    turned = garden_of([entry("checked", "2026-06-10", measure="turn")], [tree(place="wall")], [place("wall", "wall")])

    assert date(2026, 4, 15) < task.first < date(2026, 7, 1)
    assert needed("2026-06-11", "turn", turned).first == date(2026, 7, 8)
    assert task_on("2026-04-01", "turn", garden_of([])) is None
    fixed = garden_of([], [tree(place="wall", fixed=True)], [place("wall", "wall")])
    assert task_on("2026-04-01", "turn", fixed) is None
