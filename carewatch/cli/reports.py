"""`outlook` and `explain`: fetch or read the forecast, judge the garden, print the document."""

import re
import sys
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.assess import Assessment, Numbers, assess
from carewatch.care.garden import Garden
from carewatch.care.whole_log import misfits, with_log
from carewatch.charts.recovery_svg import recovery_svg
from carewatch.cli.config_commands import show_refusal
from carewatch.cli.documents import encoded, outlook_document
from carewatch.cli.explain import explain_document
from carewatch.cli.long_clock import tree_ahead
from carewatch.cli.recovery_documents import recovery_document, show_recovery
from carewatch.cli.screen import console, error, show_explain, show_outlook
from carewatch.cli.weather import KnownWeather, known_weather
from carewatch.config.load import Loaded, find_config, load
from carewatch.config.problems import ConfigErrors, nearest_names
from carewatch.config.secrets import SecretMissing
from carewatch.config.tables import Tables, load_tables
from carewatch.forecast.credits import standing_in
from carewatch.forecast.joining import joined
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.record import Record
from carewatch.forecast.weather import ForecastUnusable
from carewatch.outcome import calls
from carewatch.sqlite.care_log import entries
from carewatch.sqlite.database import Database
from carewatch.sqlite.refused import StoreRefused
from carewatch.weather_api.refused import SourceRefused

FINE, FAILED, MISUSED = 0, 1, 2
_IN_UTC = re.compile(r"(\d{4}-\d\d-\d\d \d\d:\d\d) UTC")


class Refusal(Exception):
    """A command cannot go on: what to say and the exit code."""

    def __init__(self, text: str, code: int) -> None:
        super().__init__(text)
        self.text = text
        self.code = code


def outlook(
    explicit: str | None, tree: str | None, at: str | None, environ: Mapping[str, str], now: datetime, as_json: bool
) -> int:
    """Judge the garden and print the outlook of all trees, or of one."""
    try:
        loaded, tables, moment = prepared(explicit, at, environ, now)
        if tree is not None:
            refuse_unknown("tree", tree, (known.id for known in loaded.garden.trees))
        assessment = judged(loaded, tables, moment, environ, now=now)
    except Refusal as refused:
        error(refused.text)
        return refused.code
    except ConfigErrors as refused:
        show_refusal(refused)
        return MISUSED
    document = outlook_document(assessment, tree)
    if as_json:
        sys.stdout.write(encoded(document) + "\n")
    else:
        show_outlook(document, calls(assessment))
    return FINE


def explain(
    explicit: str | None,
    tree: str,
    at: str | None,
    environ: Mapping[str, str],
    now: datetime,
    as_json: bool,
    plot: str | None = None,
) -> int:
    """Judge the garden and print every number behind one tree's outlook. plot: file to draw its recovery into."""
    try:
        loaded, tables, moment = prepared(explicit, at, environ, now)
        refuse_unknown("tree", tree, (known.id for known in loaded.garden.trees))
        assessment = judged(loaded, tables, moment, environ, tree, now)
    except Refusal as refused:
        error(refused.text)
        return refused.code
    except ConfigErrors as refused:
        show_refusal(refused)
        return MISUSED
    prospect = tree_ahead(assessment.garden, tables, moment, assessment.weather, tree)
    document = explain_document(assessment, tree, tables.hazards, recovery_document(prospect))
    if plot is not None:
        try:
            Path(plot).write_text(recovery_svg(prospect), encoding="utf-8")
        except OSError as refused:
            error(f"{plot}: {(refused.strerror or str(refused)).lower()}. Nothing was drawn.")
            return FAILED
    if as_json:
        sys.stdout.write(encoded(document) + "\n")
    else:
        show_explain(document)
        show_recovery(console(), document.recovery)
    return FINE


def prepared(
    explicit: str | None, at: str | None, environ: Mapping[str, str], now: datetime
) -> tuple[Loaded, Tables, datetime]:
    """
    The configuration with the database's entries in its log, the tables and the moment that is asked for.

    What makes the answer wrong is told on standard error; what is merely worth a thought, `config check` tells.

    Raises ConfigErrors, Refusal.
    """
    tables = load_tables()
    path = find_config(explicit, environ)
    wanted = None if at is None else parsed_time(at)
    latest = max(now, wanted) if wanted is not None and wanted.tzinfo else now
    loaded = load(path, environ, latest, tables)
    moment = now if wanted is None else at_site(wanted, loaded)
    for warning in loaded.misleading:
        error(f"warning: {warning}")
    return with_database_log(loaded, now, None if wanted is None else moment), tables, moment


def with_database_log(loaded: Loaded, now: datetime, as_of: datetime | None) -> Loaded:
    """
    The configuration with the database's entries in the garden's log.

    as_of: aware; the entries as they were known then; None: all that hold. What cannot be reckoned with is told on
    standard error.

    Raises Refusal when the database cannot be read: without its entries a tree would be judged stronger than it is.
    """
    try:
        with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
            found = entries(snapshot, as_of)
    except StoreRefused as refused:
        raise Refusal(sentence(refused.reason), FAILED) from None
    for misfit in misfits(loaded.garden, found):
        error(f"warning: {misfit}")
    return replace(loaded, garden=with_log(loaded.garden, found))


def sentence(text: str) -> str:
    """A reason as a sentence; where it begins with a name or a path, that stays as it is."""
    if text.partition(" ")[0] in ("a", "the", "there", "entry", "notice"):
        text = text[0].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."


def at_the_sites_clock(text: str, time_zone: str) -> str:
    """A text with its moments in UTC, as sources and forecasts tell them, put in the site's time."""

    def local(found: re.Match[str]) -> str:
        moment = datetime.fromisoformat(found.group(1)).replace(tzinfo=UTC)
        return f"{moment.astimezone(ZoneInfo(time_zone)):%Y-%m-%d %H:%M}"

    return _IN_UTC.sub(local, text)


def parsed_time(at: str) -> datetime:
    """The time that was written after --at, with a zone or without. Raises Refusal."""
    try:
        return datetime.fromisoformat(at)
    except ValueError:
        raise Refusal(
            f"--at {at!r} is no time; write it as 2026-11-05T16:00, in site time, or with an offset such as +01:00.",
            MISUSED,
        ) from None


def at_site(wanted: datetime, loaded: Loaded) -> datetime:
    """The moment; one without an offset is meant in the site's time."""
    return wanted if wanted.tzinfo else wanted.replace(tzinfo=ZoneInfo(loaded.garden.site.time_zone))


def refuse_unknown(kind: str, name: str, names: Iterable[str]) -> None:
    """Raises Refusal with the nearest names when there is no such tree, place or the like."""
    known = tuple(names)
    if name not in known:
        near = nearest_names(name, known)
        listed = f" Known: {', '.join(known)}." if known else ""
        hint = f" Did you mean {' or '.join(near)}?" if near else listed
        raise Refusal(f"There is no {kind} {name!r}.{hint}", MISUSED)


def judged(
    loaded: Loaded,
    tables: Tables,
    moment: datetime,
    environ: Mapping[str, str],
    detail_of: str | None = None,
    now: datetime | None = None,
) -> Assessment:
    """
    The assessment as of a moment.

    now: what the clock says, where that is another moment: services are asked by it.

    Raises Refusal with what is wrong with the forecast.
    """
    garden = loaded.garden
    if not garden.trees:
        raise Refusal(f"{loaded.config_file} names no tree yet: add a [[tree]].", MISUSED)
    try:
        known = known_weather(loaded, moment, environ, now or moment)
        return assessed(garden, known.raw, tables, moment, detail_of, known)
    except (SourceRefused, ForecastUnusable) as refused:
        raise Refusal(at_the_sites_clock(str(refused), garden.site.time_zone), FAILED) from None
    except StoreRefused as refused:
        raise Refusal(sentence(refused.reason), FAILED) from None
    except SecretMissing as refused:
        raise Refusal(str(refused), MISUSED) from None


def assessed(
    garden: Garden,
    raw: RawForecast,
    tables: Tables,
    moment: datetime,
    detail_of: str | None = None,
    known: KnownWeather | None = None,
) -> Assessment:
    """The assessment of a garden on one forecast and, where there is more, the record. Raises ForecastUnusable."""
    site, record = garden.site, Record() if known is None else known.record
    weather = joined(raw, record, site.latitude, site.longitude, site.elevation_m, moment, tables.forecast_errors)
    if known is not None:
        said = standing_in(weather.source, known.first, weather.estimated)
        weather = replace(weather, notes=(*filter(None, (said, known.why)), *weather.notes))
    return assess(garden, weather, Numbers(tables.condition, tables.measures, tables.hazards), moment, detail_of)
