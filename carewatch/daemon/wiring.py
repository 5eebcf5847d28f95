"""The program put together: the one function that builds everything, and closes it in reverse."""

import logging
import random
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.config.load import Loaded
from carewatch.config.secrets import SecretMissing, resolve_secret
from carewatch.config.tables import Tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import Parts, Rhythm
from carewatch.daemon.deliver import Delivery
from carewatch.daemon.forecasts import Forecasts
from carewatch.daemon.heartbeat import Heartbeat
from carewatch.daemon.history import History
from carewatch.daemon.job import JUDGE, READ_PAST, Judged, Numbered, PastRead, PastTask, Task, judge_garden, read_past
from carewatch.daemon.logs import logging_to_stderr
from carewatch.delivery.channels import Channel
from carewatch.delivery.timing import QuietHours
from carewatch.notify.apprise_sender import AppriseSender
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
    """

    loaded: Loaded
    clock: Clock
    database: Database
    parts: Parts
    delivery: Delivery
    heartbeat: Heartbeat
    host: Host | None


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
    settings, secrets = loaded.settings, _secrets(loaded, environ)
    with ExitStack() as open_until_the_end:
        now = clock.now()
        open_database = Database.open_for_reading if asked.dry_run else _opener(asked)
        database = open_until_the_end.enter_context(open_database(loaded.database_file, now))
        if not asked.dry_run:
            open_until_the_end.enter_context(database.claim_instance())
            _end_claims_of_the_dead(database, now)
        names = [channel.name for channel in settings.notices.channel]
        addresses = {name: secrets[f"channel {name}"] for name in names}
        sender = open_until_the_end.enter_context(
            closing(AppriseSender(addresses, [secret for key, secret in secrets.items() if key not in addresses]))
        )
        open_until_the_end.enter_context(logging_to_stderr(environ, sender.redactor))
        for problem in sender.unusable.values():
            LOG.error("%s", problem)
        if not names:
            LOG.warning("No channel is configured: notices are made and reach nobody.")
        weather = settings.weather
        recording = loaded.weather_file if weather.source == "recorded" else None
        forecasts = open_until_the_end.enter_context(
            closing(Forecasts(_options(loaded, secrets), recording, weather.source, weather.fallback))
        )
        host = Host(JUDGE_LIMIT_S, IDLE_S) if asked.own_process else None
        if host is not None:
            open_until_the_end.enter_context(host)
        channels = tuple(Channel(each.name, each.order, each.from_severity) for each in settings.notices.channel)
        rules = loaded.garden.notices
        quiet = QuietHours(rules.quiet_from, rules.quiet_to, ZoneInfo(loaded.garden.site.time_zone))
        delivery = Delivery(sender, channels, quiet, clock, asked.fault, asked.stopping, random.random)
        parts = Parts(
            garden=loaded.garden,
            tables=Numbered(tables.works, tables.measures, tables.hazards, tables.forecast_errors, tables.tasks),
            forecasts=forecasts,
            assessor=judge_garden if host is None else _through(host),
            channels=channels,
            rhythm=Rhythm(
                timedelta(minutes=settings.weather.refresh_minutes),
                timedelta(hours=float(settings.weather.blind_after_hours)),
            ),
            delivery=None if asked.dry_run else delivery,
            fault=asked.fault,
            jitter=random.random,
            redact=sender.redactor.text,
            history=History(
                loaded.garden,
                _options(loaded, secrets),
                forecasts.client,
                read_past if host is None else _reading_through(host),
                sender.redactor.text,
            ),
        )
        heartbeat = Heartbeat(secrets.get("notices.heartbeat_url", ""), settings.weather.contact)
        yield Built(loaded, clock, database, parts, delivery, heartbeat, host)


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


def _reading_through(host: Host) -> Callable[[PastTask], PastRead]:
    def reader(task: PastTask) -> PastRead:
        read = host.call(READ_PAST, task)
        if not isinstance(read, PastRead):
            raise TaskFailed("raised", f"the worker answered with {type(read).__name__}")
        return read

    return reader


def _secrets(loaded: Loaded, environ: Mapping[str, str]) -> dict[str, str]:
    """Every secret of the configuration by what it is for. Raises ServiceRefused with all that cannot be read."""
    settings, folder = loaded.settings, Path(loaded.config_file).absolute().parent
    given = {
        "weather.api_key": settings.weather.api_key,
        "notices.heartbeat_url": settings.notices.heartbeat_url,
        "page.password": settings.page.password,
        "page.token": settings.page.token,
        "page.calendar_token": settings.page.calendar_token,
        **{f"channel {channel.name}": channel.url for channel in settings.notices.channel},
    }
    found: dict[str, str] = {}
    missing: list[str] = []
    for name, secret in given.items():
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
