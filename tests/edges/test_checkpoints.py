"""Checkpoints are a cache and never a truth: with them, without them, or with spoilt ones, all answers are the same."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.assess import Numbers, assess, begin
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import with_log
from carewatch.cli.documents import encoded, outlook_document
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.exposure.checkpoint import DIGEST_BYTES, key_of, packed, unpacked
from carewatch.exposure.kept import Checkpoint
from carewatch.exposure.march import RootState
from carewatch.exposure.settle import Settled
from carewatch.exposure.toll import Toll
from carewatch.forecast.joining import joined
from carewatch.forecast.record import Record
from carewatch.forecast.weather import Weather
from carewatch.physics.ground import GroundState
from carewatch.place.microclimate import MicroclimateState
from carewatch.sqlite.care_log import add, amend, strike
from carewatch.sqlite.checkpoints import keep_checkpoint, kept_checkpoint
from carewatch.sqlite.database import Database
from carewatch.weather_api.sources import read_recorded
from tests.edges.watched import MORNING, Answer, Watched, web_service

DEMO = Path(str(files("carewatch") / "demo"))
NOW = datetime(2026, 11, 5, 11, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)
BERLIN = ZoneInfo("Europe/Berlin")
TABLES = load_tables()
NUMBERS = Numbers(TABLES.condition, TABLES.measures, TABLES.hazards)
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


def demo_garden() -> Garden:
    garden = load(DEMO / "autumn.toml", {}, NOW, TABLES).garden
    return replace(garden, trees=garden.trees[:3])


@cache
def known(at: datetime) -> Weather:
    """The weather of the demo as it is known at a moment."""
    site, raw = demo_garden().site, read_recorded(DEMO / "cold-night.json")
    return joined(raw, Record(), site.latitude, site.longitude, site.elevation_m, at, TABLES.forecast_errors)


def outlook(garden: Garden, at: datetime, kept: Checkpoint | None = None) -> tuple[str, Checkpoint]:
    """The document of an outlook and what is kept of it."""
    found = assess(garden, known(at), NUMBERS, at, kept=kept)
    return encoded(outlook_document(found)), found.checkpoint


def settled(garden: Garden, at: datetime, kept: Checkpoint | None = None) -> tuple[bytes, Checkpoint]:
    """What floors and roots have become, every bit of it, and what is kept of it."""
    found = begin(garden, known(at), NUMBERS, at, kept)
    return packed("", Settled(found.ground, found.roots, found.toll)), found.checkpoint


def test_a_kept_state_serves_all_day_and_changes_nothing() -> None:
    """Hour by hour on the same forecast the key stays, and every byte of the outlook is as without it."""
    garden = demo_garden()
    _, first = settled(garden, NOW)
    for later in (0, 1, 5, 12):
        at = NOW + later * HOUR
        assert settled(garden, at) == settled(garden, at, first)
        assert settled(garden, at)[1] == first
    assert outlook(garden, NOW + 5 * HOUR, first) == outlook(garden, NOW + 5 * HOUR)
    # At midnight nothing has come after the kept state; an hour later it is still the one of that midnight.
    assert settled(garden, NOW + 13 * HOUR)[1] == settled(garden, NOW + 14 * HOUR)[1]
    for later in (13, 14):
        at = NOW + later * HOUR
        assert settled(garden, at)[1].key != first.key
        assert settled(garden, at) == settled(garden, at, first)


def test_a_kept_state_is_really_used() -> None:
    """Under its own key another state would be believed: what makes it safe is the key, which nothing else has."""
    garden = demo_garden()
    plain, kept = outlook(garden, NOW)
    state = unpacked(kept.key, kept.content, Settled)
    assert state is not None
    cold = replace(state, roots=replace(state.roots, enthalpy=state.roots.enthalpy - 2e6))
    assert outlook(garden, NOW, Checkpoint(kept.key, packed(kept.key, cold)))[0] != plain


@pytest.mark.parametrize(
    "spoil",
    [
        lambda kept: replace(kept, content=b""),
        lambda kept: replace(kept, content=kept.content[:-1]),
        lambda kept: replace(kept, content=kept.content + b"\0"),
        lambda kept: replace(kept, content=kept.content[:-9] + bytes([kept.content[-9] ^ 1]) + kept.content[-8:]),
        lambda kept: replace(kept, content=bytes(len(kept.content))),
        lambda kept: replace(kept, key="0" * 64),
        lambda kept: Checkpoint("0" * 64, packed("0" * 64, unpacked(kept.key, kept.content, Settled))),
        lambda kept: replace(kept, content=packed("0" * 64, unpacked(kept.key, kept.content, Settled))),
    ],
    ids=["empty", "cut short", "longer", "a bit flipped", "zeros", "another key", "another's", "of another key"],
)
def test_a_spoilt_or_foreign_one_is_worked_out_again(spoil: object) -> None:
    garden = demo_garden()
    plain, kept = settled(garden, NOW)
    assert callable(spoil)
    found, again = settled(garden, NOW, spoil(kept))
    assert (found, again) == (plain, kept)


def test_whatever_went_into_it_is_in_its_key() -> None:
    """Another log, place, pot, weather or table, another key; and the outlook is that of a garden that kept nothing."""
    garden = demo_garden()
    _, kept = settled(garden, NOW)
    tree = garden.trees[0]
    old = Entry(tree.id, "root-prune", NOW - timedelta(days=200), removed=0.6)
    changed = {
        "an old entry": with_log(garden, [old]),
        "a pot": replace(
            garden, trees=(replace(tree, pot=replace(tree.pot, volume_l=tree.pot.volume_l * 2)), *garden.trees[1:])
        ),
        "a tree less": replace(garden, trees=garden.trees[1:]),
        "the order": replace(garden, trees=garden.trees[::-1]),
        "a place": replace(
            garden,
            places={name: replace(place, sky_view=0.5 * place.sky_view) for name, place in garden.places.items()},
        ),
        "the site": replace(garden, site=replace(garden.site, elevation_m=garden.site.elevation_m + 1.0)),
    }
    for what, other in changed.items():
        found, key = settled(other, NOW, kept)
        assert key.key != kept.key, what
        assert found == settled(other, NOW)[0], what
    # The last bit of one hour of a fortnight ago.
    weather = known(NOW)
    air = weather.past.values["air_temp_c"].copy()
    air[-300] = np.nextafter(air[-300], 99.0)
    other_past = replace(weather, past=replace(weather.past, values={**weather.past.values, "air_temp_c": air}))
    assert begin(garden, other_past, NUMBERS, NOW, kept).checkpoint.key != kept.key


def test_keys_tell_inputs_apart_that_read_alike() -> None:
    """Kinds and sizes are part of what is hashed."""
    ones = np.ones(4)
    inputs: list[tuple[object, ...]] = [
        (1,),
        ("1",),
        (1.0,),
        (True,),
        (None,),
        ((1,),),
        ("a", "b"),
        ("ab",),
        (("a", "b"),),
        ({"a": "b"},),
        (ones,),
        (ones.reshape(2, 2),),
        (ones.astype(np.float32),),
        (-0.0,),
        (0.0,),
    ]
    assert len({key_of(*given) for given in inputs}) == len(inputs)


def test_every_number_of_a_state_comes_back_to_the_last_bit() -> None:
    """Not-a-number and minus zero included."""
    odd = np.array([[np.nan, -0.0, 1 / 3, np.inf]])
    roots = RootState(**{field.name: odd * number for number, field in enumerate(fields(RootState), start=1)})
    toll = Toll(**{field.name: odd - number for number, field in enumerate(fields(Toll), start=1)})
    state = Settled(MicroclimateState(GroundState(odd, odd + 1, odd + 2), odd + 3), roots, toll)
    back = unpacked("ab", packed("ab", state), Settled)
    assert back is not None
    assert packed("ab", back) == packed("ab", state)
    assert unpacked("ab", packed("ab", state), RootState) is None
    assert len(packed("ab", state)) > DIGEST_BYTES


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        yield watched


def stored(garden: Watched) -> list[tuple[str, bytes]]:
    with closing(sqlite3.connect(garden.database)) as connection:
        return connection.execute("SELECT key, content FROM checkpoint").fetchall()


def spoilt(garden: Watched, statement: str) -> None:
    with closing(sqlite3.connect(garden.database)) as connection, connection:
        connection.execute(statement)


def told(said: Answer) -> str:
    """What a cycle said, apart from what its log has."""
    return json.dumps({name: value for name, value in said.items() if name != "logged"}, sort_keys=True)


def test_a_cycle_keeps_one_and_the_next_ones_use_it(garden: Watched) -> None:
    garden.once(MORNING)
    (first,) = stored(garden)
    garden.once(MORNING + HOUR)
    assert stored(garden) == [first]
    # On the next day it is replaced.
    garden.once(MORNING + 24 * HOUR)
    (second,) = stored(garden)
    assert second[0] != first[0]


def watched_for_a_day(folder: Path, statement: str) -> tuple[str, list[tuple[str, bytes]]]:
    """What three cycles and an outlook said, of which a checkpoint was treated so after the first; and what is kept."""
    with web_service() as web:
        watched = Watched(folder, web)
        watched.plant()
        cycles = [watched.once(MORNING)]
        spoilt(watched, statement)
        cycles += [watched.once(MORNING + hours * HOUR) for hours in (3, 6)]
        said = "".join([*(told(cycle) for cycle in cycles), watched.ran("outlook", "--json")[1]])
        return said.replace(f"127.0.0.1:{web.port}", "here"), stored(watched)


@pytest.fixture(scope="module")
def without(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, list[tuple[str, bytes]]]:
    """The day of a garden whose checkpoint was deleted."""
    return watched_for_a_day(tmp_path_factory.mktemp("without"), "DELETE FROM checkpoint")


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT 1",
        "UPDATE checkpoint SET content = zeroblob(length(content))",
        "UPDATE checkpoint SET release = '0.0.1', content = x'00'",
        "UPDATE checkpoint SET key = '" + "0" * 64 + "'",
    ],
    ids=["left alone", "zeros", "of another release", "foreign"],
)
def test_cycles_say_the_same_whatever_became_of_it(
    tmp_path: Path, without: tuple[str, list[tuple[str, bytes]]], statement: str
) -> None:
    assert watched_for_a_day(tmp_path, statement) == without


def test_an_old_entry_that_is_amended_or_struck_is_not_remembered(garden: Watched) -> None:
    """After each correction the kept state is the one of a garden in which the log always said so."""
    old = Entry("maple-layer-1", "water", MORNING - timedelta(days=3))
    moved = Entry("maple-layer-1", "begin", MORNING - timedelta(days=8), measure="move:shed")
    sooner = replace(moved, at=moved.at - timedelta(days=2))
    garden.once(MORNING)
    (without,) = stored(garden)
    with Database.open(garden.database, MORNING) as database:
        with database.transaction(MORNING) as transaction:
            add(transaction, old, BERLIN)
            number = add(transaction, moved, BERLIN).number
        garden.once(MORNING + HOUR)
        (added,) = stored(garden)
        with database.transaction(MORNING) as transaction:
            number = amend(transaction, number, sooner, BERLIN).number
        garden.once(MORNING + 2 * HOUR)
        (amended,) = stored(garden)
        with database.transaction(MORNING) as transaction:
            strike(transaction, number)
        garden.once(MORNING + 3 * HOUR)
        (struck,) = stored(garden)
    assert len({without, added, amended}) == 3
    assert struck == without


def test_the_store_keeps_the_newest_alone() -> None:
    with Database.in_memory(NOW) as database:
        with database.snapshot(NOW) as snapshot:
            assert kept_checkpoint(snapshot) is None
        for number in range(3):
            with database.transaction(NOW) as transaction:
                keep_checkpoint(transaction, Checkpoint(f"{number:064x}", b"x" * number))
        with database.snapshot(NOW) as snapshot:
            assert kept_checkpoint(snapshot) == Checkpoint(f"{2:064x}", b"xx")
            assert snapshot.number("SELECT count(*) FROM checkpoint") == 1
