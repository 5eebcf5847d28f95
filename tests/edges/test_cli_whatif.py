"""`whatif`: what it accepts and refuses, what it reads, and that it writes nothing."""

import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from unittest.mock import patch

import pandas as pd
import pytest
from jsonschema import Draft202012Validator

from carewatch.care.log import WORKS
from carewatch.forecast.packing import past_days
from carewatch.forecast.record import ARCHIVE
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import save_past_days, site_key
from tests.edges.own_garden import NOW, OwnGarden, own_garden
from tests.outlook.gardens import Document, Garden, ran, schema, tree, work
from tests.whatif.asked import FROSTY, MILD, SATURDAY, answered, garden, said

VALIDATOR = Draft202012Validator(schema("whatif"))


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path)


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    """A week with a frost in it, a maple, a maple with a layer on it, and a juniper."""
    return garden(
        tmp_path_factory.mktemp("week"),
        [MILD, MILD, FROSTY, MILD, MILD, MILD, MILD, MILD],
        tree("maple", "lawn"),
        tree("mother", "lawn", work("set-layer", "2026-06-10", branch='"low left"')),
        tree("juniper", "bench", work("repot", "2026-04-20"), species="Juniperus"),
    )


def complaints(document: Document) -> list[str]:
    return [f"{error.json_path}: {error.message}" for error in VALIDATOR.iter_errors(document)]


def refused(where: Garden, *words: str, code: int) -> str:
    """What is said on standard error, and nothing else, with this exit code."""
    done = ran("whatif", *words, "--config", str(where.config), "--at", where.at.isoformat())
    assert (done.code, done.out) == (code, "")
    assert "Traceback" not in done.err
    return done.err


@pytest.mark.parametrize(
    "words",
    [
        ("maple", "sever-layer", "--roots", "sparse", "--tied"),
        ("maple", "root-prune", "--removed", "0.3"),
        ("juniper", "repot", "--roots-worked"),
        ("juniper", "wire", "--gauge", "2.5", "--branch", "top"),
        ("mother", "sever-layer", "--roots", "fair", "--pot", "3"),
    ],
)
def test_an_answer_keeps_its_schema(week: Garden, words: tuple[str, ...]) -> None:
    """Whether days are ranked, barred by season, or barred by the log."""
    assert complaints(answered(week, *words)) == []


def test_the_schema_knows_every_work_and_refuses_what_is_none() -> None:
    properties = schema("whatif")["properties"]

    assert tuple(properties["work"]["enum"]) == WORKS
    assert "observe" not in properties["work"]["enum"]


def test_a_schema_that_misses_a_key_or_finds_a_strange_one_complains(week: Garden) -> None:
    document = answered(week, "maple", "seal")

    assert complaints({**document, "surprise": 1})
    assert complaints({name: value for name, value in document.items() if name != "days"})
    assert complaints({**document, "days": [{**document["days"][0], "rank": 0}]})
    assert complaints({**document, "days": [{**document["days"][0], "verdict": "good"}]})


def test_every_part_of_the_schema_says_what_it_is() -> None:
    """A reader finds a description at every property, or at the definition that it names."""
    whole = schema("whatif")
    shared = schema("outlook")["$defs"]

    for name in ("moment", "hazard", "unit", "quantity", "site", "forecast"):
        assert whole["$defs"][name] == shared[name]
    for table in (whole, whole["$defs"]["day"], whole["$defs"]["spell"], whole["$defs"]["barrier"]):
        for key, item in table["properties"].items():
            named = whole["$defs"].get(item.get("$ref", "").rpartition("/")[2], {})
            assert "description" in item or "description" in named or "const" in item, key


def test_the_answer_rests_on_the_same_forecast_as_the_outlook(week: Garden) -> None:
    assert answered(week, "maple", "seal")["forecast"] == week.asked("outlook")["forecast"]
    assert answered(week, "maple", "seal")["stage"] == week.outlook("maple")["stage"]


def test_it_fits_a_phone(week: Garden) -> None:
    """Forty columns are enough for every line, and every day has its reason under it."""
    with patch.dict(os.environ, {"COLUMNS": "40"}):
        out = said(week, "maple", "sever-layer", "--roots", "sparse", "--tied", "--with", "move:shade")

    assert max(len(line.rstrip()) for line in out.splitlines()) <= 40
    lines = out.splitlines()
    days = [number for number, line in enumerate(lines) if line[:2] in ("1.", "2.", "3.", "4.", "5.", "6.")]
    assert len(days) == 6
    assert all(lines[number + 1].startswith("   ") and lines[number + 1].strip() for number in days)


def test_a_refusal_by_season_is_an_answer_with_exit_code_0(week: Garden) -> None:
    out = " ".join(said(week, "maple", "root-prune", "--removed", "0.3").split())

    assert "No coming day is right for root-pruning." in out
    assert "2027" in out
    assert "[common practice" in out
    assert "Kindest" not in out


def test_a_refusal_by_the_log_names_the_earlier_work(week: Garden) -> None:
    """Junipers may be worked early in September, but this one was repotted in April."""
    document = answered(week, "juniper", "root-prune", "--removed", "0.3")
    kinds = [barrier["kind"] for barrier in document["barriers"]]

    assert "stacking" in kinds
    assert any("Repotting was on 20 April 2026" in barrier["why"] for barrier in document["barriers"])


def test_what_was_logged_by_a_command_counts_at_once(own: OwnGarden) -> None:
    """The database's entries are asked as well as those of the file."""
    before = own.document("whatif", "juniper", "untie", "--sure")
    assert own.ran("log", "juniper", "sever-layer", "--roots", "fair", "--tied", "--on", "2026-11-05").code == 0
    after = own.document("whatif", "juniper", "untie")

    assert before["right"]
    assert not after["right"]
    assert "twelve months" in after["barriers"][0]["why"]
    assert "5 November 2026, 1 day before" in after["barriers"][0]["why"]
    assert "2027" in after["opens"]


def test_nothing_is_written(tmp_path: Path) -> None:
    """Asking about a work logs none, makes no database and adds no tree."""
    where = garden(tmp_path, [MILD] * 8, tree("mother", "lawn", work("set-layer", "2026-06-10", branch='"low"')))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    done = ran(
        "whatif", "mother", "sever-layer", "--roots", "fair", "--pot", "3", "--config", str(where.config),
        "--at", where.at.isoformat(),
    )  # fmt: skip

    assert done.code == 0
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_layer_that_is_no_tree_yet_is_asked_about_with_its_pot(week: Garden) -> None:
    """Its stage is its mother's, its roots are the few that it has, and nothing can be compared without the cut."""
    hint = refused(week, "mother", "sever-layer", "--roots", "fair", code=1)
    words = ("--roots", "sparse", "--tied", "--pot", "3 terracotta", "--height", "30", "--crown", "20")
    document = answered(week, "mother", "sever-layer", *words)

    assert "low left" in hint
    assert "--pot" in hint
    assert document["tree"] == "mother-layer"
    assert document["place"] == "lawn"
    assert all(day["expected_loss_without"] is None for day in document["days"])
    assert any("a new layer" in day["why"] for day in document["days"])


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("mapel", "seal"), 2, "Did you mean maple"),
        (("maple", "root-prun"), 2, "Did you mean root-prune"),
        (("maple", "observe"), 2, "a note of the log"),
        (("maple", "root-prune"), 2, "--removed is missing"),
        (("maple", "root-prune", "--removed", "1.5"), 2, "--removed"),
        (("maple", "sever-layer"), 2, "--roots"),
        (("maple", "seal", "--with", "flece"), 2, "Did you mean fleece"),
        (("maple", "seal", "--with", "move:attic"), 2, "move:attic"),
        (("maple", "seal", "--pot", "3"), 2, "sever-layer"),
        (("mother", "sever-layer", "--roots", "fair", "--pot", "bucket"), 2, "has no size"),
        (("maple", "unwire"), 1, "no wire was set"),
        (("juniper", "unwire", "--branch", "top"), 1, "add --sure"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_what_can(
    week: Garden, words: tuple[str, ...], code: int, told: str
) -> None:
    assert told in refused(week, *words, code=code)


def test_what_is_so_in_spite_of_the_log_may_be_asked(week: Garden) -> None:
    assert answered(week, "maple", "unwire", "--sure")["right"]


def test_help_names_the_options_of_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran("whatif", "--help").code == 0
    out = ran("whatif", "--help").out
    for option in ("--roots", "--removed", "--tied", "--paste", "--branch", "--at", "--json", "--with", "--pot"):
        assert option in out
    assert capsys.readouterr().out == ""


def test_a_forecast_of_less_than_a_day_is_refused_with_its_end(tmp_path: Path) -> None:
    where = garden(tmp_path, [MILD], tree("maple", "lawn"))

    assert "holds no noon with a day after it" in refused(where, "maple", "seal", code=1)


def test_the_hours_of_past_years_in_the_database_stand_for_the_weeks_after(own: OwnGarden) -> None:
    """A record of last year is what the weeks after the forecast are judged by, and it is said."""
    index = pd.date_range("2025-10-15", "2026-11-04 23:00", freq="h", tz="UTC")
    air = 6.0 + 3.0 * (index.hour.to_numpy() > 12)
    table = pd.DataFrame({"air_temp_c": air, "dew_point_c": air - 2.0, "wind_10m_ms": 2.0, "cloud": 0.8}, index=index)
    days = past_days(table, ARCHIVE, date(2025, 10, 15), NOW - timedelta(hours=12))
    without = own.document("whatif", "juniper", "wire")
    with Database.open(own.database, NOW) as database, database.transaction(NOW) as transaction:
        site = without["site"]
        save_past_days(transaction, site_key(site["latitude"], site["longitude"], site["elevation_m"]), days)
    document = own.document("whatif", "juniper", "wire")

    assert without["afterwards_from"] == "usual"
    assert document["afterwards_from"] == "record"
    assert "2025" in document["afterwards"]


def test_a_moment_in_the_past_is_asked_as_it_was_known_then(own: OwnGarden) -> None:
    """What was logged later bars nothing then."""
    assert own.ran("log", "juniper", "sever-layer", "--roots", "fair", "--on", "2026-11-05").code == 0
    earlier = own.document("whatif", "juniper", "untie", "--sure", "--at", "2026-11-05T11:00")

    assert earlier["right"]


def test_a_leap_into_winter_time_keeps_noon_at_noon(tmp_path: Path) -> None:
    """Clocks go back on 25 October 2026: the work is at twelve on both sides of it."""
    where = garden(tmp_path, [MILD] * 8, at=datetime(2026, 10, 22, 7, tzinfo=UTC))
    at = sorted(day["at"] for day in answered(where, "maple", "seal")["days"])

    assert [moment[11:16] for moment in at] == ["12:00"] * 6
    assert (at[0][16:], at[-1][16:]) == ("+02:00", "+01:00")


def test_the_day_of_the_question_counts_while_its_noon_is_to_come(tmp_path: Path) -> None:
    morning = garden(tmp_path / "morning", [MILD] * 8)
    evening = garden(tmp_path / "evening", [MILD] * 8, at=SATURDAY + timedelta(hours=10))

    assert min(day["day"] for day in answered(morning, "maple", "seal")["days"]) == "2026-09-05"
    assert min(day["day"] for day in answered(evening, "maple", "seal")["days"]) == "2026-09-06"
