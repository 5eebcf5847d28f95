"""When a message may go out, when it is tried again, and what is added to it on the way."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carewatch.alerts.danger import Notice
from carewatch.delivery.port import SENT, permanent, transient
from carewatch.delivery.timing import (
    FIRST_WAIT,
    LONGEST_WAIT,
    SEND_LIMIT,
    QuietHours,
    lease_until,
    may_send,
    next_try,
)
from carewatch.delivery.wording import repeat_text, undelivered_text, with_undelivered

NOW = datetime(2026, 11, 5, 16, 0, tzinfo=UTC)
FAR = NOW + timedelta(days=2)
BERLIN = ZoneInfo("Europe/Berlin")
NIGHT = QuietHours(time(22, 0), time(6, 30), BERLIN)


def notice(severity: str, due_at: datetime, kind: str = "call") -> Notice:
    return Notice(
        id="00112233445566aa",
        kind=kind,
        severity=severity,
        title="Frost tonight",
        body="Cover the layered maple by 18:00.",
        created_at=due_at,
        due_at=due_at,
        useless_after=due_at + timedelta(hours=24),
        dedup="call:0011:1",
    )


def local(day: int, hour: int, minute: int, month: int = 11) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=BERLIN)


def test_waits_double_from_half_a_minute_to_a_quarter_of_an_hour() -> None:
    waits = [next_try(attempts, NOW, FAR, 0.0) for attempts in range(1, 8)]
    assert [(at - NOW).total_seconds() for at in waits if at] == [30, 60, 120, 240, 480, 900, 900]


def test_a_wait_stays_bounded_after_any_number_of_tries() -> None:
    assert next_try(100_000, NOW, FAR, 0.0) == NOW + LONGEST_WAIT


def test_chance_only_shortens_a_wait_and_by_a_quarter_at_the_most() -> None:
    assert next_try(1, NOW, FAR, 1.0) == NOW + timedelta(seconds=22.5)
    assert next_try(9, NOW, FAR, 0.5) == NOW + timedelta(minutes=15) * 0.875


def test_a_wait_that_would_outlast_the_notice_is_cut_to_one_last_try_that_can_end_in_time() -> None:
    useless = NOW + timedelta(minutes=10)
    last = next_try(8, NOW, useless, 0.0)
    assert last == useless - SEND_LIMIT
    assert next_try(9, last, useless, 0.0) is None


def test_a_useless_notice_is_not_tried_again() -> None:
    assert next_try(1, NOW, NOW - timedelta(minutes=1), 0.0) is None
    assert next_try(1, NOW, NOW + timedelta(seconds=40), 0.0) is None


@given(st.integers(1, 10_000), st.integers(-3600, 100_000), st.floats(0, 1))
def test_every_next_try_lies_ahead_and_ends_before_the_notice_is_useless(
    attempts: int, useful_s: int, jitter: float
) -> None:
    useless = NOW + timedelta(seconds=useful_s)
    at = next_try(attempts, NOW, useless, jitter)
    if at is not None:
        assert at >= NOW + FIRST_WAIT * 0.75
        assert at + SEND_LIMIT <= useless


@given(st.integers(60, 100_000), st.floats(0, 1))
def test_trying_ends_after_a_bounded_number_of_requests(useful_s: int, jitter: float) -> None:
    """Never more than one per 11 minutes and a few at the beginning, however long the service is away."""
    useless = NOW + timedelta(seconds=useful_s)
    at, attempts = next_try(1, NOW, useless, jitter), 1
    while at is not None:
        attempts += 1
        at = next_try(attempts, at, useless, jitter)
    assert attempts <= 8 + useful_s / (LONGEST_WAIT.total_seconds() * 0.75)


@pytest.mark.parametrize(("attempts", "jitter"), [(0, 0.5), (1, -0.1), (1, 1.1)])
def test_a_count_or_a_chance_out_of_range_is_refused(attempts: int, jitter: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        next_try(attempts, NOW, FAR, jitter)


def test_a_lease_outlasts_the_longest_send() -> None:
    assert lease_until(NOW) - NOW > SEND_LIMIT


@pytest.mark.parametrize(
    ("at", "quiet"),
    [
        (local(5, 21, 59), False),
        (local(5, 22, 0), True),
        (local(6, 0, 0), True),
        (local(6, 6, 29), True),
        (local(6, 6, 30), False),
    ],
)
def test_night_rest_reaches_over_midnight_in_the_gardens_own_time(at: datetime, quiet: bool) -> None:
    assert NIGHT.hold(at.astimezone(UTC)) is quiet


def test_a_rest_within_one_day_does_not_reach_over_midnight() -> None:
    noon = QuietHours(time(12, 0), time(14, 0), BERLIN)
    assert [noon.hold(local(5, hour, 0)) for hour in (11, 12, 13, 14, 23)] == [False, True, True, False, False]


@pytest.mark.parametrize(("month", "day", "offset_h"), [(3, 29, 2), (10, 25, 1)])
def test_the_rest_ends_by_the_clock_on_the_wall_on_days_when_clocks_change(month: int, day: int, offset_h: int) -> None:
    """Central European clocks changed on 29 March and 25 October 2026 (EU directive 2000/84/EC)."""
    ends = datetime(2026, month, day, 6, 30, tzinfo=UTC) - timedelta(hours=offset_h)
    assert NIGHT.hold(ends - timedelta(minutes=1))
    assert not NIGHT.hold(ends)


def test_only_severe_dangers_and_tests_break_the_night_rest() -> None:
    at = local(5, 23, 0)
    allowed = [may_send(notice(word, at), at, NIGHT) for word in ("Unknown", "Minor", "Moderate", "Severe", "Extreme")]
    assert allowed == [False, False, False, True, True]
    assert may_send(notice("Unknown", at, "test"), at, NIGHT)


def test_a_notice_goes_out_from_when_it_is_due_until_it_is_useless() -> None:
    due = local(5, 10, 0)
    one, end = notice("Minor", due), due + timedelta(hours=24)
    second = timedelta(seconds=1)
    assert [may_send(one, at, NIGHT) for at in (due - second, due, end, end + second)] == [False, True, True, False]


def test_a_severe_notice_that_is_useless_does_not_wake_anybody() -> None:
    due = local(4, 22, 0)
    assert not may_send(notice("Extreme", due), local(5, 23, 0), NIGHT)


def test_a_message_whose_taker_vanished_reads_as_a_confirmation() -> None:
    assert repeat_text("Frost tonight", 1, lease_expired=True) == "Still valid: Frost tonight"
    assert repeat_text("Still valid: Frost tonight", 2, lease_expired=True) == "Still valid: Frost tonight"


def test_a_message_whose_answer_was_lost_reads_as_a_confirmation() -> None:
    assert repeat_text("Frost tonight", 1, False, may_have_arrived=True) == "Still valid: Frost tonight"


def test_a_message_that_was_plainly_refused_or_never_tried_is_sent_as_it_is() -> None:
    assert repeat_text("Frost tonight", 3, lease_expired=False) == "Frost tonight"
    assert repeat_text("Frost tonight", 0, lease_expired=True) == "Frost tonight"


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (0, "Body."),
        (1, "Body.\n\n1 earlier message could not be delivered."),
        (3, "Body.\n\n3 earlier messages could not be delivered."),
    ],
)
def test_what_was_lost_is_owned_up_to_in_the_next_message(count: int, said: str) -> None:
    assert with_undelivered("Body.", count) == said
    assert with_undelivered("", count) == undelivered_text(count)


def test_only_a_message_that_the_service_took_is_delivered() -> None:
    assert [outcome.delivered for outcome in (SENT, transient("busy"), permanent("refused"))] == [True, False, False]
