"""The running service, hour by hour through recorded weather: a process of its own, a clock in a file, real sockets."""

import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.alerts.danger import Danger, Notice
from carewatch.care.garden import Garden
from carewatch.care.whole_log import with_log
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.sqlite.care_log import entries
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import OutboxRow
from carewatch.sqlite.standing import standing
from tests.edges.watched import Running, Watched, Web, web_service
from tests.replay.errors import Forecaster
from tests.replay.recorded import Station
from tests.stories.story import SITE

HOUR = timedelta(hours=1)
# A person answers so long after a message.
ANSWERED_AFTER = timedelta(minutes=30)
PAST_DAYS, AHEAD_DAYS = 14, 8
SETTLE_S, LOOK_S = 60.0, 0.02


@dataclass(frozen=True)
class Seen:
    """What stood after one look. at: UTC."""

    at: datetime
    dangers: tuple[Danger, ...]


@dataclass(frozen=True)
class Sent:
    """A message that got through. at: site's clock; lines: danger, tree, measure."""

    at: datetime
    kind: str
    severity: str
    lines: tuple[tuple[str, str, str], ...]
    text: str

    @property
    def says(self) -> tuple[object, ...]:
        """What it comes to: kind, trees with measures, and the day."""
        return self.at.date(), self.kind, tuple(sorted({(tree, measure) for _, tree, measure in self.lines}))


@dataclass
class Replay:
    """What came of a replay. seconds: per look. [s] log_garden: with what was answered."""

    station: Station
    forecaster: Forecaster
    begins: datetime
    ends: datetime
    seen: list[Seen] = field(default_factory=list)
    sent: list[Sent] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    garden: Garden | None = None
    log_garden: Garden | None = None


def replayed(
    station: Station,
    forecaster: Forecaster,
    begins: datetime,
    hours: Sequence[int],
    planted: str,
    answering: bool,
) -> Replay:
    """
    The service watched through recorded weather.

    begins: UTC, a full hour; hours: after it, at which the clock stands, rising. planted: the garden, TOML.
    answering: every call and bring-back is answered done half an hour later; else nobody answers anything.
    """
    found = Replay(station, forecaster, begins, begins + hours[-1] * HOUR)
    with tempfile.TemporaryDirectory() as folder, web_service() as web:
        watched = Watched(Path(folder), web)
        _plant(watched, web, station, planted)
        watched.set_clock(begins)
        web.weather = forecaster.document(begins, PAST_DAYS, AHEAD_DAYS)
        with watched.service() as running:
            told: set[str] = set()
            for hour in hours:
                _look(found, running, web, begins + hour * HOUR)
                fresh = [notice for notice in _notices(watched, told) if answering and _asks(notice)]
                if fresh:
                    at = begins + hour * HOUR + ANSWERED_AFTER
                    watched.set_clock(at)
                    for notice in fresh:
                        code, _, err = watched.ran("answer", notice.id, "done")
                        assert code == 0, err
                    _look(found, running, web, at)
            assert running.stop() == 0, running.log.read_text()
            assert "Traceback" not in running.log.read_text(), running.log.read_text()[-3000:]
        _read(found, watched)
    return found


def _look(found: Replay, running: Running, web: Web, at: datetime) -> None:
    web.weather = found.forecaster.document(at, PAST_DAYS, AHEAD_DAYS)
    began_s = time.perf_counter()
    running.looked_at(at)
    found.seconds.append(time.perf_counter() - began_s)
    running.until(lambda: _settled(running.watched.rows(), at), f"sending what was due at {at}")
    with Database.open_for_reading(running.watched.database, at) as database, database.snapshot(at) as snapshot:
        found.seen.append(Seen(at, standing(snapshot, at - timedelta(days=1)).dangers))


def _settled(rows: Sequence[OutboxRow], at: datetime) -> bool:
    return not any(row.sent_at is None and row.failed_at is None and row.due_at <= at for row in rows)


def _notices(watched: Watched, told: set[str]) -> list[Notice]:
    fresh = [notice for notice in watched.notices() if notice.id not in told]
    told.update(notice.id for notice in fresh)
    return fresh


def _asks(notice: Notice) -> bool:
    return bool(notice.lines) and notice.kind in ("call", "worse", "repeat", "bring-back")


def _read(found: Replay, watched: Watched) -> None:
    zone = ZoneInfo(found.station.zone)
    by_id = {notice.id: notice for notice in watched.notices()}
    for row in watched.rows():
        if row.sent_at is not None:
            notice = by_id[row.notice]
            lines = tuple((line.danger, line.tree, line.measure) for line in notice.lines)
            at = row.sent_at.astimezone(zone)
            found.sent.append(Sent(at, notice.kind, notice.severity, lines, notice.body))
    found.sent.sort(key=lambda sent: (sent.at, sent.kind))
    loaded = load(watched.config, {}, found.ends, load_tables())
    found.garden = loaded.garden
    with (
        Database.open_for_reading(watched.database, found.ends) as database,
        database.snapshot(found.ends) as snapshot,
    ):
        found.log_garden = with_log(loaded.garden, entries(snapshot))


def _plant(watched: Watched, web: Web, station: Station, planted: str) -> None:
    service = f"http://127.0.0.1:{web.port}"
    text = SITE.format(spot=station.spot, zone=station.zone)
    text += f'[weather]\nforecast_url = "{service}/v1/forecast"\narchive_url = "{service}/v1/archive"\n'
    # Polls are spread by up to a tenth of their interval: fifty minutes are due again at every full hour.
    text += 'members = "single"\nfallback = "none"\nrefresh_minutes = 50\n[notices]\n'
    text += f'{watched.channel("phone")}\n[storage]\npath = "garden.sqlite"\n{planted}'
    watched.config.write_text(text, encoding="utf-8")


def clock_hours(days: float, every: int = 1) -> list[int]:
    """Hours after the beginning at which the clock stands. every: [h]"""
    return list(range(0, int(days * 24) + 1, every))
