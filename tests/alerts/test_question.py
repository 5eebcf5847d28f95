"""The question about leaves: of whom it is asked, when, and how often."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.question import MOST_TREES, AskedBefore, question_notice
from carewatch.alerts.wording import LONGEST, LONGEST_TITLE
from carewatch.care.garden import NoticeRules
from carewatch.care.log import Entry
from carewatch.tasks.asking import leaf_questions
from carewatch.tasks.leaf_question import LeafQuestion
from tests.condition.grown import TABLES, days_later, noon, on, severed, tree, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
BERLIN = ZoneInfo("Europe/Berlin")
RULES = NoticeRules(
    quiet_from=time(22),
    quiet_to=time(6, 30),
    rounds_at=time(7),
    caution=0.5,
    unlit_garden=True,
    lift_kg=20.0,
    away=(),
    repeat_after_minutes=60,
)
MORNING = datetime(2026, 6, 11, 7, tzinfo=BERLIN)
CUT = date(2026, 6, 8)
PLAIN = LeafQuestion("maple", "bench", "sever-layer", CUT, None, 0.2, date(2026, 6, 15))
HOT = replace(PLAIN, on=date(2026, 4, 1), hot_on=date(2026, 6, 10), once_until=date(2026, 4, 8))


def asked_of(
    day: str, log: list[Entry], hot: tuple[str, ...] = (), species: str = "Acer palmatum"
) -> list[LeafQuestion]:
    condition = on(day, [entry for entry in log if entry.at <= noon(day)], YEARS, tree(species=species))
    highest = {date.fromisoformat(days_later(day, -back)): 20.0 for back in range(14)}
    highest |= {date.fromisoformat(each): 26.0 for each in hot}
    return list(leaf_questions([condition], log, highest, date.fromisoformat(day), TABLES.condition.leaves))


@pytest.mark.parametrize(("after", "asked"), [(0, 0), (2, 0), (3, 1), (7, 1), (8, 0)])
def test_leaves_are_asked_for_from_the_third_day_for_some_days(after: int, asked: int) -> None:
    assert len(asked_of(days_later("2026-06-08", after), [severed("2026-06-08")])) == asked


def test_a_hot_day_asks_of_works_whose_roots_are_still_short() -> None:
    """The first 26 °C of May on a layer of autumn; not on one that was hot before it was cut, nor today's heat."""
    autumn = [severed("2025-09-15")]
    assert asked_of("2026-05-20", autumn) == []
    (question,) = asked_of("2026-05-20", autumn, hot=("2026-05-18", "2026-05-19"))
    assert (question.work, question.hot_on) == ("sever-layer", date(2026, 5, 19))
    assert asked_of("2026-05-20", autumn, hot=("2026-05-20",)) == []
    assert asked_of("2026-05-20", autumn, hot=("2026-05-16",)) == []
    assert asked_of("2026-06-10", [severed("2026-06-09")], hot=("2026-06-09",)) == []
    assert asked_of("2027-09-20", autumn, hot=("2027-09-19",)) == []


def test_the_place_is_where_it_stands_now() -> None:
    """Carried to the shade by a call; with fleece on it it stands where it lives."""
    places = []
    for measure in ("move:shade", "fleece"):
        log = [severed("2026-06-08"), Entry("maple", "begin", noon("2026-06-09"), measure=measure)]
        places += [question.place for question in asked_of("2026-06-11", log)]
    assert places == ["shade", tree().place]


@pytest.mark.parametrize(
    ("log", "species"),
    [
        ([severed("2026-06-08")], "Pinus sylvestris"),
        ([Entry("maple", "repot", noon("2026-06-08"))], "Acer palmatum"),
        ([Entry("maple", "wire", noon("2026-06-08"))], "Acer palmatum"),
        ([Entry("maple", "graft", noon("2026-06-08"))], "Acer palmatum"),
        ([severed("2026-06-08"), Entry("maple", "defoliate", noon("2026-06-08"), removed=1.0)], "Acer palmatum"),
        ([severed("2026-06-08"), Entry("maple", "observe", noon("2026-06-10"), seen="firm")], "Acer palmatum"),
    ],
    ids=["needles", "slipped into another pot", "wired", "grafted", "stripped", "seen already"],
)
def test_who_has_no_leaves_to_ask_or_lost_no_roots_is_left_in_peace(log: list[Entry], species: str) -> None:
    assert asked_of("2026-06-11", log, hot=("2026-06-09",), species=species) == []


def test_a_bare_tree_is_asked_when_it_is_in_leaf_and_it_is_hot() -> None:
    pruned = [Entry("maple", "root-prune", noon("2026-03-10"), removed=0.6)]
    assert asked_of("2026-03-14", pruned) == []
    assert len(asked_of("2026-05-20", pruned, hot=("2026-05-19",))) == 1


def test_it_comes_with_the_rounds_and_never_in_quiet_hours() -> None:
    assert question_notice([PLAIN], [], RULES, MORNING) is not None
    for hour in (0, 3, 6, 14, 20, 23):
        assert question_notice([PLAIN], [], RULES, MORNING.replace(hour=hour)) is None
    early = replace(RULES, rounds_at=time(5))
    assert question_notice([PLAIN], [], early, MORNING.replace(hour=6)) is None
    assert question_notice([PLAIN], [], early, MORNING.replace(hour=6, minute=30)) is not None


def test_after_two_o_clock_it_is_of_tomorrow() -> None:
    late = replace(RULES, rounds_at=time(16))
    notice = question_notice([PLAIN], [], late, MORNING.replace(hour=17))
    assert notice is not None
    assert notice.title == "Tomorrow at 14:00: do the leaves of maple hang?"
    assert notice.useless_after == datetime(2026, 6, 12, 20, tzinfo=BERLIN)


def test_one_question_a_day_and_two_of_a_work_at_the_most() -> None:
    def due(question: LeafQuestion, *before: tuple[str, str]) -> bool:
        asked = [AskedBefore(name, date.fromisoformat(day)) for name, day in before]
        return question_notice([question], asked, RULES, MORNING) is not None

    assert due(PLAIN)
    assert not due(PLAIN, ("elm", "2026-06-11"))
    assert due(PLAIN, ("elm", "2026-06-10"))
    assert not due(PLAIN, ("maple", "2026-06-10"))
    assert due(PLAIN, ("maple", "2026-06-07"))
    assert due(HOT, ("maple", "2026-04-04"))
    assert not due(HOT, ("maple", "2026-05-20"))
    assert not due(HOT, ("maple", "2026-04-04"), ("maple", "2026-04-07"))


def test_the_weakest_roots_come_first_and_the_rest_on_the_next_day() -> None:
    """Every tree is named, in a message that fits."""
    many = [replace(PLAIN, tree=f"a-layer-with-a-rather-long-name-{number:02d}") for number in range(MOST_TREES + 2)]
    notice = question_notice(many, [], RULES, MORNING)
    assert notice is not None
    assert [line.tree for line in notice.lines] == [question.tree for question in many[:MOST_TREES]]
    assert len(notice.body) <= LONGEST
    assert len(notice.title) <= LONGEST_TITLE
    asked = [AskedBefore(line.tree, MORNING.date()) for line in notice.lines]
    rest = question_notice(many, asked, RULES, MORNING + timedelta(days=1))
    assert rest is not None
    assert [line.tree for line in rest.lines] == [question.tree for question in many[MOST_TREES:]]
    for question in many[:MOST_TREES]:
        assert question.tree in notice.body


def test_the_same_moment_asks_the_same() -> None:
    first, second = (question_notice([PLAIN, HOT], [], RULES, MORNING) for _ in range(2))
    assert first == second
    assert first is not None
    assert first.id[:6] in first.body
    assert first.created_at.astimezone(UTC) == MORNING.astimezone(UTC)
