"""A service that runs never falls silent: the clock is set back, the ticks stop, the database cannot be written."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from apscheduler.schedulers.background import BackgroundScheduler

from carewatch.alerts.danger import Notice
from carewatch.alerts.messages import kept_again_message, unkept_message
from carewatch.cli.health_command import state_of_health
from carewatch.daemon.clock import Clock
from carewatch.daemon.deliver import Delivery
from carewatch.daemon.pulse import DELIVER_LIMIT_S, GIVE_UP_S, GivingUp, Pulse
from carewatch.daemon.state import COMPLETED_AT, EVALUATE_NEXT_AT, POLL_NEXT_AT, POLLED_AT, Due, due, set_back
from carewatch.daemon.ticker import brought_back
from carewatch.daemon.unkept import UNKEPT_AFTER, Unkept
from carewatch.delivery.channels import Channel
from carewatch.delivery.port import SENT, Attachment, Outcome, transient
from carewatch.delivery.timing import LEASE, QuietHours
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import bring_forward, claim_due, rows_of
from carewatch.sqlite.standing import Change, Queued, save
from carewatch.sqlite.text_time import time_text
from tests.edges.watched import CALL, MORNING, Watched, web_service

BERLIN = ZoneInfo("Europe/Berlin")
NOON = datetime(2026, 11, 5, 11, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)

pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        watched.set_clock(MORNING)
        yield watched


@pytest.mark.parametrize(
    ("back", "expected"),
    [(timedelta(), Due(False, False)), (4 * MINUTE, Due(False, False)), (6 * MINUTE, Due(True, True))]
    + [(days * timedelta(days=1), Due(True, True)) for days in (1, 14)],
)
def test_a_clock_that_was_set_back_is_no_reason_to_wait_for_the_old_time(back: timedelta, expected: Due) -> None:
    """After a start with a clock two weeks ahead the garden was not looked at for two weeks."""
    done, again = time_text(NOON), time_text(NOON + HOUR)
    facts = {COMPLETED_AT: done, POLLED_AT: done, POLL_NEXT_AT: again, EVALUATE_NEXT_AT: again}

    assert due(facts, 0, NOON - back, longest_wait_s=32 * 86400.0) == expected
    assert set_back(facts, NOON - back) == expected.evaluate
    said, code = state_of_health({**facts, "service.refresh-minutes": "60"}, NOON - back)
    assert (code, "set back" in said) == ((1, True) if back > 15 * MINUTE else (0, False))


def test_ticks_that_wait_for_the_time_before_the_clock_was_set_back_come_at_once() -> None:
    """The scheduler goes by the system's clock: set back by five hours, nothing ticked for five hours."""
    ticked, at_rest = threading.Event(), threading.Event()
    scheduler = BackgroundScheduler(timezone=UTC)
    far, near = (datetime.now(UTC) + wait for wait in (5 * HOUR, 20 * timedelta(seconds=1)))
    scheduler.add_job(ticked.set, "interval", seconds=30, id="cycle", next_run_time=far)
    scheduler.add_job(at_rest.set, "interval", seconds=30, id="deliver", next_run_time=near)
    scheduler.start()
    try:
        assert not ticked.wait(0.2)
        assert brought_back(scheduler) == ("cycle",)
        assert ticked.wait(10.0)
        assert brought_back(scheduler) == ()
        assert not at_rest.is_set()
    finally:
        scheduler.shutdown(wait=False)


def test_ticks_that_stopped_for_good_end_the_process_so_that_it_is_started_anew() -> None:
    now_s = 0.0
    pulse, giving_up = Pulse(lambda: now_s), GivingUp(lambda: now_s)

    def given_up(at_s: float) -> bool:
        nonlocal now_s
        now_s = at_s
        return giving_up.after(pulse.ailing())

    ill_s = DELIVER_LIMIT_S + 15.0
    assert not given_up(ill_s)
    assert not given_up(ill_s + GIVE_UP_S - 1)
    pulse.step("deliver")
    assert not given_up(ill_s + GIVE_UP_S)
    later_s = ill_s + GIVE_UP_S + ill_s
    assert not given_up(later_s)
    assert given_up(later_s + GIVE_UP_S)


def test_the_service_looks_at_once_when_its_clock_is_set_back_and_calls_once(garden: Watched) -> None:
    with garden.service() as service:
        service.looked_at(CALL)
        service.until(garden.web.titles, "the call")
        asked = len(garden.web.asked)
        garden.set_clock(MORNING)
        service.until(lambda: garden.facts()[COMPLETED_AT] == time_text(MORNING), "a look by the clock of now")
        assert len(garden.web.asked) > asked
        service.looked_at(CALL + HOUR)
        assert service.stop() == 0

    assert [notice.kind for notice in garden.notices() if notice.kind != "season"] == ["call"]
    assert "set back" in service.log.read_text()


def test_a_database_that_cannot_be_written_is_told_past_it_once_and_so_is_its_return(garden: Watched) -> None:
    aside = garden.folder / "aside.sqlite"
    with garden.service() as service:
        service.looked_at(MORNING)
        before = len(garden.web.titles())
        # As when its disk is gone: every connection that is opened from now on is refused.
        garden.database.rename(aside)
        garden.database.mkdir()
        service.until(lambda: "pulse: the database" in service.log.read_text(), "a refusal")
        garden.set_clock(MORNING + UNKEPT_AFTER - MINUTE)
        service.until(lambda: service.log.read_text().count("pulse: the database") >= 4, "more refusals")
        assert len(garden.web.titles()) == before
        garden.set_clock(MORNING + UNKEPT_AFTER + MINUTE)
        service.until(lambda: len(garden.web.titles()) > before, "the word")
        seen = service.log.read_text().count("pulse: the database")
        service.until(lambda: service.log.read_text().count("pulse: the database") > seen + 2, "more refusals")
        garden.database.rmdir()
        aside.rename(garden.database)
        service.until(lambda: len(garden.web.titles()) > before + 1, "the word that all is well")
        service.looked_at(CALL)
        service.until(lambda: len(garden.web.titles()) > before + 2, "the call")
        assert service.stop() == 0

    lost, again, call = garden.web.titles()[before : before + 3]
    assert lost == "Your trees are not watched: nothing could be stored since today 8:00."
    assert again == "Your trees are watched again: the database can be written."
    assert "maple-layer-1" in call


def test_what_is_said_of_a_database_that_cannot_be_written_is_said_when_it_lasts_and_once_a_day() -> None:
    unkept = Unkept()

    def word(after: timedelta) -> str:
        found = unkept.refused(NOON + after, "full")
        if found is None:
            return ""
        unkept.told(found, NOON + after)
        return f"{found.what} since {(found.since - NOON) / MINUTE:.0f}: {found.why}"

    said = [word(minutes * MINUTE) for minutes in (0, 14, 15, 16, 15 + 24 * 60 - 1, 15 + 24 * 60)]
    assert said == ["", "", "unkept since 0: full", "", "", "unkept since 0: full"]
    back = unkept.stored()
    assert back is not None
    # Nobody took it: it is owed until somebody does.
    assert unkept.stored() == back
    unkept.told(back, NOON)
    assert unkept.stored() is None
    # A short trouble is none, and one of which nobody heard needs no end.
    assert unkept.refused(NOON, "full") is None
    assert unkept.stored() is None
    # A clock that is set back in between does not put it off for good.
    assert unkept.refused(NOON, "full") is None
    assert unkept.refused(NOON - HOUR, "full") is None
    assert unkept.refused(NOON - HOUR + UNKEPT_AFTER, "full") is not None


class _Channels:
    """A sender: what each channel does, and in which order they were asked."""

    def __init__(self, **does: Outcome | Exception) -> None:
        self.does, self.asked = does, list[str]()

    def send(
        self, channel_name: str, title: str, body: str, severity: str, attachment: Attachment | None = None
    ) -> Outcome:
        assert title in body
        assert severity == "Moderate"
        assert attachment is None
        self.asked.append(channel_name)
        outcome = self.does[channel_name]
        if isinstance(outcome, Exception):
            raise outcome
        return outcome


@pytest.mark.parametrize(
    ("does", "hour", "expected", "asked"),
    [
        ({"phone": SENT, "mail": SENT}, 11, True, ["phone"]),
        ({"phone": transient("away"), "mail": SENT}, 11, True, ["phone", "mail"]),
        ({"phone": RuntimeError("broken"), "mail": SENT}, 11, True, ["phone", "mail"]),
        ({"phone": transient("away"), "mail": transient("away")}, 11, False, ["phone", "mail"]),
        # It can wait for the morning.
        ({"phone": SENT, "mail": SENT}, 23, False, []),
    ],
)
def test_past_the_outbox_one_channel_after_the_other_is_asked_until_one_takes_it(
    does: dict[str, Outcome | Exception], hour: int, expected: bool, asked: list[str]
) -> None:
    sender = _Channels(**does)
    channels = (Channel("mail", 2, "severe"), Channel("phone", 1, "minor"))
    quiet = QuietHours(time(22), time(6, 30), BERLIN)
    clock = Clock(NOON.replace(hour=hour))
    delivery = Delivery(sender, channels, quiet, clock, lambda _: None, lambda: False, lambda: 0.5)

    message = unkept_message(NOON.astimezone(BERLIN), NOON.astimezone(BERLIN), "the disk is full")
    assert delivery.said_past_the_outbox(message, "Moderate") is expected
    assert sender.asked == asked
    assert not delivery.sending


def test_the_words_on_a_database_say_since_when_why_and_that_what_was_said_holds() -> None:
    since, now = (moment.astimezone(BERLIN) for moment in (NOON - 2 * HOUR, NOON))
    lost = unkept_message(since, now, "the disk is full")

    assert lost.title == "Your trees are not watched: nothing could be stored since today 10:00."
    assert "What you were told before still holds." in lost.body
    assert lost.body.endswith("The reason: the disk is full.")
    assert "From today 10:00 until now nobody watched them." in kept_again_message(since, now).body


def test_messages_made_under_a_clock_that_was_ahead_go_out_by_the_right_one(tmp_path: Path) -> None:
    """A channel was down while the clock was five hours ahead: the next try was put off by as much."""
    ahead = NOON + 5 * HOUR
    call = Notice(
        id="a" * 16,
        kind="call",
        severity="Moderate",
        title="Carry it in.",
        body="Carry it in.",
        created_at=ahead,
        due_at=ahead,
        useless_after=ahead + 20 * HOUR,
        dedup="key",
    )
    with Database.open(tmp_path / "a.sqlite", NOON) as database:
        with database.transaction(ahead) as transaction:
            save(transaction, Change(notices=[call], queued=[Queued(call.id, "phone", 1)]))
            assert claim_due(transaction, LEASE) is not None
        with database.transaction(NOON) as transaction:
            assert claim_due(transaction, LEASE) is None
            assert bring_forward(transaction, LEASE) == 1
            claimed = claim_due(transaction, LEASE)
            assert claimed is not None
            # One that is being sent just now keeps its claim.
            assert bring_forward(transaction, LEASE) == 0
            assert rows_of(transaction, call.id)[0].lease_until == NOON + LEASE
