"""Which channels get a notice: at once, and when the first ones do not get through."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Literal

import pytest

from carewatch.alerts.danger import Notice
from carewatch.delivery.channels import NEXT_CHANNEL_AFTER, Channel, Standing, channels_for, is_severe, next_channels

NOW = datetime(2026, 11, 5, 16, 0, tzinfo=UTC)
PHONE = Channel("phone", 1, "minor")
MAIL = Channel("mail", 2, "minor")
SIREN = Channel("siren", 3, "severe")
ALL = (SIREN, MAIL, PHONE)


def notice(severity: str = "Moderate", kind: str = "call") -> Notice:
    return Notice(
        id="00112233445566aa",
        kind=kind,
        severity=severity,
        title="Frost tonight",
        body="Cover the layered maple by 18:00.",
        created_at=NOW,
        due_at=NOW,
        useless_after=NOW + timedelta(hours=12),
        dedup="call:0011:1",
    )


def standing(channel: Channel, state: Literal["waiting", "sent", "failed"], minutes_ago: float = 0) -> Standing:
    return Standing(channel.name, state, NOW - timedelta(minutes=minutes_ago))


def test_the_first_channel_by_order_gets_a_notice_at_once_and_the_others_do_not() -> None:
    assert channels_for(notice(), ALL) == (PHONE,)


def test_a_channel_that_carries_only_worse_dangers_is_passed_over() -> None:
    loud = Channel("loud", 1, "extreme")
    assert channels_for(notice("Severe"), (loud, MAIL, SIREN)) == (MAIL,)
    assert channels_for(notice("Extreme"), (loud, MAIL, SIREN)) == (loud,)


def test_channels_of_the_same_order_get_it_together() -> None:
    """Nobody ranked them, so none may be left out."""
    tablet = Channel("tablet", 1, "minor")
    assert channels_for(notice(), (PHONE, MAIL, tablet)) == (PHONE, tablet)


@pytest.mark.parametrize("kind", ["blind", "sees-again", "test"])
def test_a_notice_about_the_watch_itself_goes_even_to_a_channel_for_severe_dangers(kind: str) -> None:
    assert channels_for(notice("Unknown", kind), (SIREN,)) == (SIREN,)


def test_the_daily_rounds_count_as_minor() -> None:
    assert channels_for(notice("Unknown", "rounds"), ALL) == (PHONE,)
    assert channels_for(notice("Unknown", "rounds"), (SIREN,)) == ()


def test_a_severe_call_that_nobody_answered_is_repeated_on_the_next_channel_too() -> None:
    assert channels_for(notice("Severe", "repeat"), ALL) == (PHONE, MAIL)
    assert channels_for(notice("Moderate", "repeat"), ALL) == (PHONE,)
    # The call of another night, when the last one was not answered, is the reminder of that day.
    assert channels_for(replace(notice("Severe"), repeats="b100000000000001"), ALL) == (PHONE, MAIL)
    assert channels_for(replace(notice("Moderate"), repeats="b100000000000001"), ALL) == (PHONE,)
    assert channels_for(notice("Severe", "repeat"), (PHONE,)) == (PHONE,)


def test_nothing_more_is_sent_once_a_channel_has_taken_it() -> None:
    had = [standing(PHONE, "failed", 60), standing(MAIL, "sent", 50)]
    assert next_channels(notice("Extreme"), ALL, had, NOW) == ()


@pytest.mark.parametrize("severity", ["Minor", "Severe"])
def test_a_channel_that_failed_for_good_is_replaced_at_once_by_the_next(severity: str) -> None:
    """Whatever the severity: a mistyped password must not swallow a message."""
    assert next_channels(notice(severity), ALL, [standing(PHONE, "failed")], NOW) == (MAIL,)


def test_a_severe_notice_moves_on_when_no_channel_has_taken_it_in_time() -> None:
    wait = NEXT_CHANNEL_AFTER.total_seconds() / 60
    assert next_channels(notice("Severe"), ALL, [standing(PHONE, "waiting", wait - 0.1)], NOW) == ()
    assert next_channels(notice("Severe"), ALL, [standing(PHONE, "waiting", wait)], NOW) == (MAIL,)


def test_a_notice_that_is_not_severe_waits_for_its_channel() -> None:
    assert next_channels(notice("Moderate"), ALL, [standing(PHONE, "waiting", 240)], NOW) == ()


def test_each_further_channel_has_its_own_time_before_the_one_after_it() -> None:
    had = [standing(PHONE, "waiting", 30), standing(MAIL, "waiting", 2)]
    assert next_channels(notice("Severe"), ALL, had, NOW) == ()
    had = [standing(PHONE, "waiting", 30), standing(MAIL, "waiting", 20)]
    assert next_channels(notice("Severe"), ALL, had, NOW) == (SIREN,)


def test_the_next_channel_must_carry_the_severity_too() -> None:
    had = [standing(PHONE, "failed"), standing(MAIL, "failed")]
    assert next_channels(notice("Moderate"), ALL, had, NOW) == ()
    assert next_channels(notice("Severe"), ALL, had, NOW) == (SIREN,)


def test_one_failure_among_channels_of_one_order_does_not_move_on_while_another_is_tried() -> None:
    tablet = Channel("tablet", 1, "minor")
    had = [standing(PHONE, "failed"), standing(tablet, "waiting", 1)]
    assert next_channels(notice("Severe"), (PHONE, tablet, MAIL), had, NOW) == ()


def test_a_useless_notice_moves_nowhere() -> None:
    late = NOW + timedelta(hours=12, seconds=1)
    assert next_channels(notice("Extreme"), ALL, [standing(PHONE, "failed")], late) == ()


def test_following_both_rules_to_the_end_tries_every_channel_that_carries_it_exactly_once() -> None:
    had: list[Standing] = []
    asked = list(channels_for(notice("Severe"), ALL))
    while asked:
        had += [standing(channel, "failed") for channel in asked]
        asked = list(next_channels(notice("Severe"), ALL, had, NOW))
    assert [one.channel for one in had] == ["phone", "mail", "siren"]


def test_severities_rise_as_in_the_common_alerting_protocol() -> None:
    """OASIS Common Alerting Protocol 1.2, section 3.2.2; the configuration writes them with small letters."""
    words = ["unknown", "minor", "Moderate", "severe", "Extreme"]
    assert [is_severe(word) for word in words] == [False, False, False, True, True]
    with pytest.raises(ValueError, match="Awful"):
        is_severe("awful")
