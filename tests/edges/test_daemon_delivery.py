"""From the outbox to a real web service on this machine, with a clock that is set by hand."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.danger import Notice, NoticeLine
from carewatch.daemon.clock import Clock
from carewatch.daemon.deliver import Delivered, Delivery
from carewatch.daemon.housekeeping import keep_house
from carewatch.daemon.state import QUEUED_LATER
from carewatch.delivery.channels import Channel, channels_for
from carewatch.delivery.port import SENT, Attachment, Outcome, Sender, transient
from carewatch.delivery.timing import LEASE, QuietHours
from carewatch.notify.apprise_sender import AppriseSender
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts
from carewatch.sqlite.outbox import OutboxRow, claim_due, next_due, rows_of
from carewatch.sqlite.standing import Change, Queued, save
from carewatch.sqlite.tokens import find_token
from tests.edges.watched import Web, web_service

# 13:00 in Berlin.
NOON = datetime(2026, 11, 5, 12, tzinfo=UTC)
QUIET = QuietHours(time(22, 0), time(6, 30), ZoneInfo("Europe/Berlin"))


@dataclass
class Post:
    """An outbox with its channels, and the time."""

    database: Database
    web: Web
    clock_file: Path
    names: dict[str, Channel] = field(default_factory=dict)
    sender: Sender | None = None
    stopping: bool = False
    answer_link: Callable[[str], str] | None = None

    @property
    def now(self) -> datetime:
        """What the clock says."""
        return datetime.fromisoformat(self.clock_file.read_text())

    def at(self, moment: datetime) -> "Post":
        """Set the clock."""
        self.clock_file.write_text(moment.isoformat())
        return self

    def with_channels(self, *channels: Channel) -> "Post":
        """The channels, each taken by the web service under its name."""
        self.names = {channel.name: channel for channel in channels}
        if self.sender is None:
            self.sender = AppriseSender({name: f"json://127.0.0.1:{self.web.port}/to-{name}" for name in self.names})
        return self

    def notice(
        self,
        severity: str,
        useful: timedelta = timedelta(hours=12),
        kind: str = "call",
        number: int = 1,
        lines: tuple[NoticeLine, ...] = (),
    ) -> str:
        """Store a notice that is due now; its id."""
        made = Notice(
            id=f"{number:016x}",
            kind=kind,
            severity=severity,
            title=f"Notice {number}.",
            body=f"Notice {number}.\nIt has a reason.",
            created_at=self.now,
            due_at=self.now,
            useless_after=self.now + useful,
            dedup=f"key {number}",
            lines=lines,
        )
        queued = [Queued(made.id, each.name, each.order) for each in channels_for(made, self.names.values())]
        with self.database.transaction(self.now) as transaction:
            save(transaction, Change(notices=[made], queued=queued))
        return made.id

    def deliver(self) -> Delivered:
        """One pass."""
        assert self.sender is not None
        delivery = Delivery(
            self.sender,
            tuple(self.names.values()),
            QUIET,
            Clock(self.clock_file),
            lambda _: None,
            lambda: self.stopping,
            lambda: 0.5,
            answer_link=self.answer_link,
        )
        return delivery.deliver_due(self.database)

    def deliver_until(self, moment: datetime) -> None:
        """A pass whenever a row is due or a minute is over, up to a moment."""
        while self.now < moment:
            self.deliver()
            with self.database.snapshot(self.now) as snapshot:
                due = next_due(snapshot)
            soon = self.now + timedelta(minutes=1)
            self.at(min(moment, max(due, self.now + timedelta(seconds=1)) if due and due < soon else soon))
        self.deliver()

    def rows(self, notice: str) -> dict[str, OutboxRow]:
        """The rows of a notice by channel."""
        with self.database.snapshot(self.now) as snapshot:
            return {row.channel: row for row in rows_of(snapshot, notice)}


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    with web_service() as web, Database.open(tmp_path / "a.sqlite", NOON) as database:
        made = Post(database, web, tmp_path / "clock").at(NOON)
        yield made
        if isinstance(made.sender, AppriseSender):
            made.sender.close()


def test_a_message_is_sent_once_and_its_first_line_is_not_said_twice(post: Post) -> None:
    notice = post.with_channels(Channel("phone", 1, "minor")).notice("Moderate")

    first, second = post.deliver(), post.deliver()

    assert [(sent.channel, sent.outcome.delivered) for sent in first.attempts] == [("phone", True)]
    assert second.attempts == []
    assert [(taken["title"], taken["message"]) for taken in post.web.posts] == [("Notice 1.", "It has a reason.")]
    assert post.rows(notice)["phone"].sent_at == NOON


def test_a_service_that_is_down_for_three_hours_gets_the_message_when_it_is_back(post: Post) -> None:
    """Waits double from half a minute to a quarter of an hour: some fifteen tries in three hours, and not hundreds."""
    notice = post.with_channels(Channel("phone", 1, "minor")).notice("Moderate")
    post.web.sink_status["phone"] = 503
    post.deliver_until(NOON + timedelta(hours=3))
    assert post.web.titles() == []
    assert 12 <= post.rows(notice)["phone"].attempts <= 20

    post.web.sink_status["phone"] = 200
    post.deliver_until(NOON + timedelta(hours=4))

    assert post.web.titles() == ["Notice 1."]
    assert post.rows(notice)["phone"].sent_at is not None


def test_a_severe_message_goes_to_the_next_channel_after_ten_minutes_and_to_no_third_once_taken(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor"), Channel("bell", 2, "severe"), Channel("mail", 3, "minor"))
    post.web.sink_status["phone"] = 503
    notice = post.notice("Severe")

    post.deliver_until(NOON + timedelta(minutes=9))
    assert post.web.titles("bell") == []
    post.deliver_until(NOON + timedelta(hours=1))

    assert post.web.titles("bell") == ["Notice 1."]
    assert NOON + timedelta(minutes=10) <= (post.rows(notice)["bell"].sent_at or NOON) <= NOON + timedelta(minutes=12)
    assert post.web.titles("mail") == []


def test_each_further_channel_of_a_severe_message_has_its_own_ten_minutes(post: Post) -> None:
    post.with_channels(
        *(Channel(name, order, "minor") for order, name in enumerate(("phone", "bell", "mail"), start=1))
    )
    post.web.sink_status |= {"phone": 503, "bell": 503}
    notice = post.notice("Severe")

    post.deliver_until(NOON + timedelta(hours=1))

    assert post.web.titles("mail") == ["Notice 1."]
    assert (post.rows(notice)["mail"].sent_at or NOON) >= NOON + timedelta(minutes=20)


def test_a_channel_that_refuses_for_good_hands_even_a_minor_message_to_the_next_at_once(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor"), Channel("mail", 2, "minor"))
    post.web.sink_status["phone"] = 404
    notice = post.notice("Minor")

    post.deliver()

    assert post.web.titles("mail") == ["Notice 1."]
    assert post.rows(notice)["phone"].failure == "permanent"


def test_a_message_is_never_sent_after_it_became_useless_and_the_next_one_says_that_one_was_lost(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor"))
    post.web.sink_status["phone"] = 503
    lost = post.notice("Moderate", useful=timedelta(hours=2))
    post.deliver_until(NOON + timedelta(hours=2, minutes=1))

    post.web.sink_status["phone"] = 200
    post.deliver_until(NOON + timedelta(hours=3))
    assert post.web.titles() == []
    assert post.rows(lost)["phone"].failure == "too-late"

    for number in (2, 3):
        post.notice("Moderate", number=number)
        post.deliver()
    assert [taken["message"] for taken in post.web.posts if taken["status"] == 200] == [
        "It has a reason.\n\n1 earlier message could not be delivered.",
        "It has a reason.",
    ]


def test_what_was_held_up_until_the_night_waits_for_the_morning_unless_it_is_severe(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor"))
    evening = datetime(2026, 11, 5, 20, 50, tzinfo=UTC)  # 21:50 in Berlin; the night rest begins at 22:00.
    post.at(evening).web.sink_status["phone"] = 503
    held = post.notice("Moderate", useful=timedelta(hours=24))
    post.deliver_until(evening + timedelta(minutes=15))

    post.web.sink_status["phone"] = 200
    post.deliver_until(evening + timedelta(hours=2))
    assert post.web.titles() == []
    post.notice("Severe", number=2)
    post.deliver()
    assert post.web.titles() == ["Notice 2."]

    post.deliver_until(datetime(2026, 11, 6, 5, 31, tzinfo=UTC))
    assert post.web.titles() == ["Notice 2.", "Notice 1."]
    assert (post.rows(held)["phone"].sent_at or evening) >= datetime(2026, 11, 6, 5, 30, tzinfo=UTC)


def test_a_taker_that_died_between_sending_and_marking_makes_the_second_message_a_confirmation(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor")).notice("Moderate")
    with post.database.transaction(NOON) as transaction:
        assert claim_due(transaction, LEASE) is not None

    post.at(NOON + LEASE - timedelta(seconds=1)).deliver()
    assert post.web.titles() == []
    post.at(NOON + LEASE).deliver()

    assert post.web.titles() == ["Still valid: Notice 1."]


def test_an_answer_that_was_lost_makes_the_second_message_a_confirmation_after_a_restart_too(post: Post) -> None:
    endings = [Outcome("transient", "no answer", may_have_arrived=True), Outcome("sent")]
    sender = _Told(endings)
    post.sender = sender
    post.with_channels(Channel("phone", 1, "minor")).notice("Moderate")

    post.deliver()
    post.at(NOON + timedelta(minutes=1)).deliver()

    assert sender.titles == ["Notice 1.", "Still valid: Notice 1."]


def test_a_refusal_that_certainly_did_not_arrive_leaves_the_second_message_as_it_was(post: Post) -> None:
    sender = _Told([Outcome("transient", "busy"), Outcome("sent")])
    post.sender = sender
    post.with_channels(Channel("phone", 1, "minor")).notice("Moderate")

    post.deliver()
    post.at(NOON + timedelta(minutes=1)).deliver()

    assert sender.titles == ["Notice 1.", "Notice 1."]


def test_a_channel_that_breaks_stops_no_other(post: Post) -> None:
    post.sender = _Told([RuntimeError("broken"), Outcome("sent")])
    notice = post.with_channels(Channel("phone", 1, "minor"), Channel("mail", 1, "minor")).notice("Moderate")

    done = post.deliver()

    assert [sent.outcome.ending for sent in done.attempts] == ["transient", "sent"]
    assert post.rows(notice)["phone"].last_error == "the sender broke: RuntimeError"


def test_a_pass_ends_after_the_send_that_is_under_way_when_a_stop_was_asked_for(post: Post) -> None:
    sender = _Told([Outcome("sent")] * 2, lambda: setattr(post, "stopping", True))
    post.sender = sender
    post.with_channels(Channel("phone", 1, "minor"))
    for number in (1, 2):
        post.notice("Moderate", number=number)

    post.deliver()
    assert sender.titles == ["Notice 1."]
    post.stopping = False
    post.deliver()
    assert sender.titles == ["Notice 1.", "Notice 2."]


def test_housekeeping_forgets_when_further_channels_were_asked_after_the_notice_is_of_no_use(post: Post) -> None:
    post.with_channels(Channel("phone", 1, "minor"), Channel("mail", 2, "minor"))
    post.web.sink_status["phone"] = 404
    post.notice("Minor")
    post.deliver()

    def marks() -> list[str]:
        with post.database.snapshot(post.now) as snapshot:
            return [name for name in all_facts(snapshot) if name.startswith(QUEUED_LATER)]

    assert len(marks()) == 1
    keep_house(post.database, NOON + timedelta(days=1))
    assert len(marks()) == 1
    keep_house(post.database, NOON + timedelta(days=30))
    assert marks() == []


def test_with_an_address_to_answer_at_each_try_carries_a_token_of_its_own_and_only_hashes_are_kept(post: Post) -> None:
    sender = _Told([transient("busy"), SENT, SENT])
    post.sender = sender
    post.with_channels(Channel("phone", 1, "minor"), Channel("mail", 2, "severe"))
    post.answer_link = "https://garden.example/a/{}".format
    call = post.notice("Moderate", lines=(NoticeLine("", "elm", "fleece"),))
    post.notice("Minor", number=2)

    post.deliver()
    post.at(NOON + timedelta(minutes=1)).deliver()

    links = [body.partition("Answer: https://garden.example/a/")[2] for body in sender.bodies]
    # What asks for nothing has nothing to be answered.
    assert [bool(link) for link in links] == [True, False, True]
    assert links[0] != links[2]
    with post.database.snapshot(post.now) as snapshot:
        for link in (links[0], links[2]):
            assert (find_token(snapshot, link).notice, find_token(snapshot, link).channel) == (call, "phone")
    kept = b"".join(path.read_bytes() for path in post.clock_file.parent.glob("a.sqlite*"))
    assert links[0].encode() not in kept


def test_without_an_address_no_message_carries_a_link_and_no_token_is_made(post: Post) -> None:
    sender = _Told([SENT])
    post.sender = sender
    post.with_channels(Channel("phone", 1, "minor")).notice("Moderate", lines=(NoticeLine("", "elm", "fleece"),))
    post.deliver()

    assert sender.bodies == ["It has a reason."]
    with post.database.snapshot(post.now) as snapshot:
        assert snapshot.number("SELECT count(*) FROM answer_token") == 0


class _Told:
    """A sender that ends as it is told, and remembers the titles that it was given."""

    def __init__(self, endings: Sequence[Outcome | Exception], during: object = None) -> None:
        self._endings = list(endings)
        self._during = during
        self.titles: list[str] = []
        self.bodies: list[str] = []

    def send(
        self, channel_name: str, title: str, body: str, severity: str, attachment: Attachment | None = None
    ) -> Outcome:
        del channel_name, severity, attachment
        self.titles.append(title)
        self.bodies.append(body)
        if callable(self._during):
            self._during()
        ending = self._endings.pop(0)
        if isinstance(ending, Exception):
            raise ending
        return ending
