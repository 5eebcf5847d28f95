"""`whatif TREE WORK`: season and log first, then every coming day on the same forecast as `outlook`."""

import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from carewatch.assess import Numbers
from carewatch.care.contradictions import brought_in
from carewatch.care.garden import Garden
from carewatch.care.log import NOTES, WORKS, Entry
from carewatch.care.tree import Tree
from carewatch.care.whole_log import lives_at
from carewatch.cli.acting import finished
from carewatch.cli.documents import encoded
from carewatch.cli.log_checks import refuse_contradictions, tree_of
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, at_the_sites_clock, prepared, refuse_unknown
from carewatch.cli.weather import known_weather
from carewatch.cli.whatif_documents import show_whatif, whatif_document
from carewatch.condition.lived import MOVE
from carewatch.config.entry_check import checked_entry
from carewatch.config.garden_file import tree_added
from carewatch.config.load import Loaded
from carewatch.config.new_tree import checked_tree
from carewatch.config.tables import Tables
from carewatch.forecast.credits import standing_in
from carewatch.forecast.joining import joined
from carewatch.forecast.record import PastDay
from carewatch.forecast.weather import ForecastUnusable, Weather
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import past_record, site_key
from carewatch.weather_api.refused import SourceRefused
from carewatch.whatif.kindest import RECORD_DAYS, NoDayAhead, Whatif, what_if

# What a layer that is not a tree yet shares with the tree that it is on.
ITS_MOTHERS = ("observe", "set-layer")
LONGEST_ID = 40


@dataclass(frozen=True)
class Asked:
    """
    What stood after `whatif`.

    given: keys of a [[tree.work]], without its day; new: keys of a [[tree]] that a severed layer would become.
    aftercare: measures that would be taken with it. sure: what contradicts the log is asked all the same.
    """

    tree: str
    work: str
    given: Mapping[str, object]
    new: Mapping[str, object]
    aftercare: tuple[str, ...]
    sure: bool
    as_json: bool


def whatif(explicit: str | None, asked: Asked, at: str | None, environ: Mapping[str, str], now: datetime) -> int:
    """Ask about a work and print the answer; a refusal by season or log is an answer."""
    return finished(lambda: _whatif(explicit, asked, at, environ, now))


def _whatif(explicit: str | None, asked: Asked, at: str | None, environ: Mapping[str, str], now: datetime) -> int:
    loaded, tables, moment = prepared(explicit, at, environ, now)
    refuse_unknown("tree", asked.tree, (known.id for known in loaded.garden.trees))
    if asked.work in NOTES:
        raise Refusal(f"{asked.work} is a note of the log; whatif asks about works: {', '.join(WORKS)}.", MISUSED)
    refuse_unknown("work", asked.work, WORKS)
    _refuse_unknown_measures(loaded, tables, asked.aftercare)
    garden, tree = loaded.garden, tree_of(loaded.garden, asked.tree)
    if asked.new:
        garden, tree = _with_layer(loaded, tables, asked, environ, moment)

    def work(on: datetime) -> Entry:
        # Held to the rules of the log as if it were done at that moment.
        return checked_entry(tree.id, {**asked.given, "work": asked.work, "on": on}, garden, tables, on)

    _refuse_contradictions(garden, tree, work(moment), moment, asked.sure)
    answer = _answer(loaded, garden, tree, work, tables, moment, environ, now, asked)
    document = whatif_document(answer, asked.aftercare)
    if asked.as_json:
        sys.stdout.write(encoded(document) + "\n")
    else:
        show_whatif(document)
    return FINE


def _refuse_unknown_measures(loaded: Loaded, tables: Tables, names: Iterable[str]) -> None:
    """Raises Refusal for what is no measure, or a move to a place that the garden does not have."""
    known = [f"{MOVE}{place}" for place in loaded.garden.places] + [name for name in tables.measures if name != "move"]
    for name in names:
        refuse_unknown("measure", name, known)


def _refuse_contradictions(garden: Garden, tree: Tree, entry: Entry, moment: datetime, sure: bool) -> None:
    """Raises Refusal where the work cannot be; a layer on the tree is asked about with its pot."""
    known = tuple(other for other in garden.log if other.at <= moment)
    found = brought_in(tree, known, (*known, entry))
    layered = [each.other for each in found if entry.work == "sever-layer" and each.other is not None]
    on = next((other for other in layered if other.work == "set-layer"), None)
    if on is not None and not sure:
        raise Refusal(
            f"A layer was set on {on.branch} of {tree.id} on {on.at:%Y-%m-%d}. To ask about the tree that it becomes, "
            "say its --pot SIZE, and --height and --crown.",
            FAILED,
        )
    refuse_contradictions(garden, tree.id, known, (*known, entry), sure)


def _with_layer(
    loaded: Loaded, tables: Tables, asked: Asked, environ: Mapping[str, str], moment: datetime
) -> tuple[Garden, Tree]:
    """The garden with the layer of a tree as a tree of its own, and that tree. Raises ConfigErrors, Refusal."""
    if asked.work != "sever-layer":
        raise Refusal("--pot, --place, --height and --crown tell of a layer that is severed: sever-layer.", MISUSED)
    old = tree_of(loaded.garden, asked.tree)
    name = f"{old.id[: LONGEST_ID - 6]}-layer"
    place = lives_at((entry for entry in loaded.garden.log if entry.at <= moment), old)
    keys = {"id": name, "species": old.species.asked_for, "place": place, **asked.new}
    values = checked_tree(keys, loaded.garden, tables, moment)
    with tree_added(loaded, values, "A layer that is asked about.", environ, moment, tables, dry_run=True) as addition:
        layer = tree_of(addition.garden, name)
    shared = [
        replace(entry, tree=name, branch=None)
        for entry in loaded.garden.log
        if entry.tree == old.id and entry.work in ITS_MOTHERS
    ]
    trees = (*loaded.garden.trees, layer)
    return replace(loaded.garden, trees=trees, log=(*loaded.garden.log, *shared)), layer


def _answer(
    loaded: Loaded,
    garden: Garden,
    tree: Tree,
    work: Callable[[datetime], Entry],
    tables: Tables,
    moment: datetime,
    environ: Mapping[str, str],
    now: datetime,
    asked: Asked,
) -> Whatif:
    """The answer on the forecast that `outlook` would judge by. Raises Refusal, StoreRefused, SecretMissing."""
    numbers, rules = Numbers(tables.condition, tables.measures, tables.hazards), tables.work_rules
    fresh_pot = bool(asked.new)
    try:
        weather = _weather(loaded, tables, moment, environ, now)
        record = _recorded_days(loaded, moment, now)
        return what_if(garden, tree, work, weather, numbers, rules, record, moment, asked.aftercare, fresh_pot)
    except (SourceRefused, ForecastUnusable, NoDayAhead) as refused:
        raise Refusal(at_the_sites_clock(str(refused), garden.site.time_zone), FAILED) from None


def _weather(loaded: Loaded, tables: Tables, moment: datetime, environ: Mapping[str, str], now: datetime) -> Weather:
    """As `outlook` has it, with what it says of its source. Raises SourceRefused, ForecastUnusable and others."""
    site = loaded.garden.site
    known = known_weather(loaded, moment, environ, now)
    weather = joined(
        known.raw, known.record, site.latitude, site.longitude, site.elevation_m, moment, tables.forecast_errors
    )
    said = standing_in(weather.source, known.first, weather.estimated)
    return replace(weather, notes=(*filter(None, (said, known.why)), *weather.notes))


def _recorded_days(loaded: Loaded, moment: datetime, now: datetime) -> tuple[PastDay, ...]:
    """Hours of past years, for the weeks after the forecast. Raises StoreRefused."""
    site = loaded.settings.site
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(moment) as snapshot:
        return past_record(snapshot, site_key(site.latitude, site.longitude, site.elevation_m), RECORD_DAYS).recent
