"""The program put together: the one function that builds everything, and closes it in reverse."""

import logging
import random
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.alerts.picture import Picture
from carewatch.config.load import Loaded
from carewatch.config.secrets import SecretMissing, resolve_secret, secret_file
from carewatch.config.tables import Tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.deliver import Delivery
from carewatch.daemon.forecasts import Forecasts
from carewatch.daemon.heartbeat import Heartbeat
from carewatch.daemon.history import History
from carewatch.daemon.job import JUDGE, READ_PAST, Judged, Numbered, PastRead, PastTask, Task, judge_garden, read_past
from carewatch.daemon.logs import logging_to_stderr
from carewatch.daemon.parts import Parts, Rhythm
from carewatch.daemon.pictures import DRAW, DRAW_LIMIT_S, draw_picture
from carewatch.delivery.channels import Channel
from carewatch.delivery.timing import QuietHours
from carewatch.notify.apprise_sender import AppriseSender
from carewatch.notify.redaction import Redactor
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import claims_standing, end_claims
from carewatch.weather_api.open_meteo import SourceOptions
from carewatch.worker.host import Host, TaskFailed

LOG = logging.getLogger(__name__)

# Five times what the largest garden of the budget takes on a slow board (estimate). [s]
JUDGE_LIMIT_S = 300.0
# The child gives back a third of a gigabyte between the hourly looks, at the price of a second to start anew. [s]
IDLE_S = 600.0


class ServiceRefused(Exception):
    """The service cannot be built from this configuration; the text says what to change, a line for each thing."""


@dataclass(frozen=True)
class Built:
    """
    The program, ready to run.

    database: of the thread that built it; other threads take `database.another()`. host: None when this process judges.
    one_at_a_time: held while messages go out. secret_files: in which secrets of this configuration are kept.
    renewed: the program with another configuration, in this one's place: with the same database, clock and host. Call
    it while `one_at_a_time` is held; raises ServiceRefused before anything is changed.
    """

    loaded: Loaded
    clock: Clock
    database: Database
    parts: Parts
    delivery: Delivery
    heartbeat: Heartbeat
    host: Host | None
    one_at_a_time: threading.Lock
    secret_files: tuple[Path, ...]
    renewed: Callable[[Loaded], "Built"]


@dataclass(frozen=True)
class Asked:
    """
    How the program is to be built.

    own_process: judge in a child process. dry_run: open the database for reading, and send nothing.
    fault: called at the seams of fault.SEAMS. stopping: True once a stop was asked for; also called before each send.
    """

    own_process: bool
    dry_run: bool
    fault: Callable[[str], None]
    stopping: Callable[[], bool]


@contextmanager
def built(loaded: Loaded, tables: Tables, environ: Mapping[str, str], clock: Clock, asked: Asked) -> Iterator[Built]:
    """
    Everything that a cycle and the service need, while the block runs.

    Raises ServiceRefused; StoreRefused when the database cannot be used or another service has it.
    """
    secrets = _secrets(loaded, environ)
    with ExitStack() as open_until_the_end:
        now = clock.now()
        open_database = Database.open_for_reading if asked.dry_run else _opener(asked)
        database = open_until_the_end.enter_context(open_database(loaded.database_file, now))
        if not asked.dry_run:
            open_until_the_end.enter_context(database.claim_instance())
            _end_claims_of_the_dead(database, now)
        redactor = Redactor(secrets.values())
        open_until_the_end.enter_context(logging_to_stderr(environ, redactor))
        host = Host(JUDGE_LIMIT_S, IDLE_S) if asked.own_process else None
        if host is not None:
            open_until_the_end.enter_context(host)
        wiring = _Wiring(tables, environ, clock, asked, database, host, redactor)
        open_until_the_end.callback(wiring.close)
        yield wiring.assembled(loaded)


class _Wiring:
    """
    What lasts as long as the process, and puts a program round it for each configuration.

    redactor: what was a secret in an earlier configuration stays one.
    """

    def __init__(
        self,
        tables: Tables,
        environ: Mapping[str, str],
        clock: Clock,
        asked: Asked,
        database: Database,
        host: Host | None,
        redactor: Redactor,
    ) -> None:
        self._tables = tables
        self._environ = environ
        self._clock = clock
        self._asked = asked
        self._database = database
        self._host = host
        self._redactor = redactor
        self._one_at_a_time = threading.Lock()
        self._opened = ExitStack()

    def close(self) -> None:
        """Close what the newest configuration has open."""
        self._opened.close()

    def assembled(self, loaded: Loaded) -> Built:
        """The program with this configuration; what an earlier one had open is closed. Raises ServiceRefused."""
        secrets = _secrets(loaded, self._environ)
        self._redactor.learn(secrets.values())
        with ExitStack() as opened:
            made = self._made(loaded, secrets, opened)
            before, self._opened = self._opened, opened.pop_all()
        before.close()
        return made

    def _made(self, loaded: Loaded, secrets: Mapping[str, str], opened: ExitStack) -> Built:
        settings, host, redact = loaded.settings, self._host, self._redactor.text
        names = [channel.name for channel in settings.notices.channel]
        sender = self._sender(names, secrets, opened)
        weather = settings.weather
        recording = loaded.weather_file if weather.source == "recorded" else None
        options = _options(loaded, secrets)
        forecasts = opened.enter_context(closing(Forecasts(options, recording, weather.source, weather.fallback)))
        channels = tuple(Channel(each.name, each.order, each.from_severity) for each in settings.notices.channel)
        delivery = self._delivery(loaded, sender, channels)
        read = read_past if host is None else _reading_through(host)
        parts = Parts(
            garden=loaded.garden,
            tables=_numbered(self._tables),
            forecasts=forecasts,
            assessor=judge_garden if host is None else _through(host),
            channels=channels,
            rhythm=Rhythm(
                timedelta(minutes=weather.refresh_minutes), timedelta(hours=float(weather.blind_after_hours))
            ),
            delivery=None if self._asked.dry_run else delivery,
            fault=self._asked.fault,
            jitter=random.random,
            redact=redact,
            history=History(loaded.garden, options, forecasts.client, read, redact),
            draw=draw_picture if host is None else _drawing_through(host),
        )
        heartbeat = Heartbeat(secrets.get("notices.heartbeat_url", ""), weather.contact)
        return Built(
            loaded=loaded,
            clock=self._clock,
            database=self._database,
            parts=parts,
            delivery=delivery,
            heartbeat=heartbeat,
            host=host,
            one_at_a_time=self._one_at_a_time,
            secret_files=_secret_files(loaded, self._environ),
            renewed=self.assembled,
        )

    def _sender(self, names: Sequence[str], secrets: Mapping[str, str], opened: ExitStack) -> AppriseSender:
        """The way to the channels, with a word on those that cannot be used."""
        addresses = {name: secrets[f"channel {name}"] for name in names}
        others = [secret for key, secret in secrets.items() if key not in addresses]
        sender = opened.enter_context(closing(AppriseSender(addresses, others)))
        for problem in sender.unusable.values():
            LOG.error("%s", problem)
        if not names:
            LOG.warning("No channel is configured: notices are made and reach nobody.")
        return sender

    def _delivery(self, loaded: Loaded, sender: AppriseSender, channels: Sequence[Channel]) -> Delivery:
        rules, asked = loaded.garden.notices, self._asked
        quiet = QuietHours(rules.quiet_from, rules.quiet_to, ZoneInfo(loaded.garden.site.time_zone))
        return Delivery(
            sender, channels, quiet, self._clock, asked.fault, asked.stopping, random.random, self._one_at_a_time
        )


def _numbered(tables: Tables) -> Numbered:
    return Numbered(tables.condition, tables.measures, tables.hazards, tables.forecast_errors, tables.tasks)


def _end_claims_of_the_dead(database: Database, now: datetime) -> None:
    """What was being sent when the last service died is due at once, and will say that it may have come before."""
    with database.snapshot(now) as snapshot:
        standing = claims_standing(snapshot)
    if standing:
        with database.transaction(now) as transaction:
            end_claims(transaction)


def _opener(asked: Asked) -> Callable[..., Database]:
    return lambda path, now: Database.open(path, now, fault=asked.fault)


def _through(host: Host) -> Callable[[Task], Judged]:
    def assessor(task: Task) -> Judged:
        judged = host.call(JUDGE, task)
        if not isinstance(judged, Judged):
            raise TaskFailed("raised", f"the worker answered with {type(judged).__name__}")
        return judged

    return assessor


def _drawing_through(host: Host) -> Callable[[Picture], bytes]:
    def drawer(picture: Picture) -> bytes:
        png = host.call(DRAW, picture, DRAW_LIMIT_S)
        if not isinstance(png, bytes):
            raise TaskFailed("raised", f"the worker answered with {type(png).__name__}")
        return png

    return drawer


def _reading_through(host: Host) -> Callable[[PastTask], PastRead]:
    def reader(task: PastTask) -> PastRead:
        read = host.call(READ_PAST, task)
        if not isinstance(read, PastRead):
            raise TaskFailed("raised", f"the worker answered with {type(read).__name__}")
        return read

    return reader


def _secrets(loaded: Loaded, environ: Mapping[str, str]) -> dict[str, str]:
    """Every secret of the configuration by what it is for. Raises ServiceRefused with all that cannot be read."""
    folder = _folder(loaded)
    found: dict[str, str] = {}
    missing: list[str] = []
    for name, secret in loaded.secrets().items():
        try:
            resolved = resolve_secret(secret, environ, folder)
        except SecretMissing as problem:
            missing.append(f"{loaded.config_file}: {name}: {problem}.")
            continue
        if resolved is not None:
            found[name] = resolved.get_secret_value()
    if missing:
        raise ServiceRefused("\n".join(missing))
    return found


def _secret_files(loaded: Loaded, environ: Mapping[str, str]) -> tuple[Path, ...]:
    found = (secret_file(secret, environ, _folder(loaded)) for secret in loaded.secrets().values())
    return tuple(path for path in found if path is not None)


def _folder(loaded: Loaded) -> Path:
    return Path(loaded.config_file).absolute().parent


def _options(loaded: Loaded, secrets: Mapping[str, str]) -> SourceOptions:
    """What the weather source needs to know of the configuration."""
    site, weather = loaded.settings.site, loaded.settings.weather
    return SourceOptions(
        latitude=site.latitude,
        longitude=site.longitude,
        elevation_m=site.elevation_m,
        forecast_url=weather.forecast_url,
        ensemble_url=weather.ensemble_url,
        archive_url=weather.archive_url,
        met_norway_url=weather.met_norway_url,
        api_key=secrets.get("weather.api_key", ""),
        contact=weather.contact,
        ensemble_model=weather.ensemble_model if weather.members == "ensemble" else None,
    )
