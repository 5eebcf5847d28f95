"""`tasks` on real files: the long clock for a person and as a document, put off and looked after by the log."""

import json
import pickle
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from jsonschema import Draft202012Validator

from carewatch.care.log import Entry
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.daemon.job import Candidate, Numbered, Task, judge_garden
from carewatch.daemon.season import DATES, QUARTERS
from carewatch.sqlite.facts import put_facts
from carewatch.tasks.task import BANK, KINDS
from carewatch.weather_api.open_meteo import SourceOptions
from tests.edges.own_garden import NOW, OwnGarden, own_garden
from tests.outlook.gardens import Document, schema

PHONE = "56"
NINE_HOURS = timedelta(hours=9)
LAYER = """
[[tree]]
id = "old-layer"
species = "Acer palmatum"
place = "bench"
[[tree.work]]
work = "sever-layer"
on = 2025-09-15
roots = "sparse"
tied = true
"""


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> OwnGarden:
    """The demo's autumn garden with a layer of the September before."""
    garden = own_garden(tmp_path_factory.mktemp("tasks"))
    garden.config.write_text(garden.config.read_text(encoding="utf-8") + LAYER, encoding="utf-8")
    return garden


@pytest.fixture(scope="module")
def document(own: OwnGarden) -> Document:
    return own.document("tasks")


def of(document: Document, tree: str, kind: str) -> Document:
    """One task of a document."""
    (found,) = [task for task in document["tasks"] if (task["tree"], task["kind"]) == (tree, kind)]
    task: Document = found
    return task


def test_the_document_keeps_its_schema(document: Document) -> None:
    Draft202012Validator.check_schema(schema("tasks"))

    assert [error.message for error in Draft202012Validator(schema("tasks")).iter_errors(document)] == []
    assert schema("tasks")["$defs"]["task"]["properties"]["kind"]["enum"] == list(KINDS)


def test_its_definitions_are_those_of_the_other_documents() -> None:
    """What documents share is described once, word for word."""
    own, rounds, explain = (schema(name)["$defs"] for name in ("tasks", "rounds", "explain"))

    assert {name: rounds[name] for name in ("task", "kind_day", "site", "moment")} == {
        name: own[name] for name in ("task", "kind_day", "site", "moment")
    }
    assert own["month"] == explain["month"]


def test_ties_of_a_layer_of_last_september_may_go_and_a_new_one_keeps_them(document: Document) -> None:
    """Twelve months on, and not before (common practice)."""
    assert of(document, "maple-layer-1", "untie")["first"] >= "2027-10-12"
    old = of(document, "old-layer", "untie")
    assert old["first"] >= "2026-09-15"
    assert old["reason"]
    assert "common practice" in old["source"]


def test_the_command_line_prints_a_layer_month_by_month_for_fourteen_months(own: OwnGarden) -> None:
    """Severed in September with sparse roots."""
    course = own.document("tasks", "old-layer", "--months", "14")["course"]
    said = own.ran("tasks", "old-layer").out

    assert [month["month"] for month in course] == list(range(15))
    assert (course[0]["on"], course[-1]["on"]) == ("2025-09-15", "2026-11-15")
    assert [month["foreseen"] for month in course] == [False] * 14 + [True]
    assert course[0]["root_supply"] < 0.3 < course[-1]["root_supply"]
    assert all(month["tied"] for month in course)
    assert "Fragility month by month" in said
    assert "14~ 15 Nov " in said
    assert len(own.document("tasks", "old-layer", "--months", "3")["course"]) == 4


def test_one_tree_is_told_alone_and_the_garden_without_any_course(own: OwnGarden, document: Document) -> None:
    alone = own.document("tasks", "old-layer")

    assert {task["tree"] for task in alone["tasks"]} == {"old-layer"}
    assert alone["tasks"] == [task for task in document["tasks"] if task["tree"] == "old-layer"]
    assert document["course"] == []


def test_the_list_for_a_person_is_grouped_and_fits_a_phone(own: OwnGarden, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", PHONE)
    said = own.ran("tasks").out
    whole = own.ran("tasks", "old-layer").out

    assert all(len(line) <= int(PHONE) for line in [*said.splitlines(), *whole.splitlines()])
    assert said.index("\nNow\n") < said.index("\nLater\n")
    assert "Laubenau" in said
    assert "Kindest: " in said


def test_a_task_is_put_off_by_the_log_and_a_look_counts_from_its_day(tmp_path: Path) -> None:
    garden = own_garden(tmp_path)
    assert garden.ran("log", "elm", "wire", "--on", "2026-05-01", "--branch", "low left", "--gauge", "2").code == 0
    check = of(garden.document("tasks"), "elm", "wire-check")
    assert check["state"] == "overdue"

    assert garden.ran("log", "elm", "put-off", "wire-check", "--due", "2026-11-20").code == 0
    rested = of(garden.document("tasks"), "elm", "wire-check")
    assert (rested["state"], rested["put_off_to"]) == ("put-off", "2026-11-20")
    assert "Put off" in garden.ran("tasks").out

    assert garden.ran("log", "elm", "checked", "wire-check").code == 0
    assert of(garden.document("tasks"), "elm", "wire-check")["first"] > "2027-04-01"
    off = garden.ran("log", "elm", "unwire", "--branch", "low left")
    assert off.code == 0
    done = garden.document("tasks")
    assert of(done, "elm", "wire-off")["state"] == "done"
    assert [task for task in done["tasks"] if task["kind"] == "wire-check"] == []


def test_a_task_that_there_is_not_is_refused_with_those_that_there_are(tmp_path: Path) -> None:
    garden = own_garden(tmp_path)
    said = garden.refused("log", "elm", "put-off", "unties", code=2)

    assert "is not a known task" in said
    assert "untie" in said
    # A bare date lies at noon; what is put off is put off to later.
    assert "2026-11-01" in garden.refused("log", "elm", "put-off", "untie", "--due", "2026-11-01", code=2)
    assert "has no meaning" in garden.refused("log", "elm", "repot", "--due", "2026-12-01", code=2)


def test_notes_about_tasks_survive_export_and_import(tmp_path: Path) -> None:
    garden = own_garden(tmp_path / "one")
    assert garden.ran("log", "elm", "put-off", "turn", "--due", "2026-12-24").code == 0
    assert garden.ran("log", "elm", "checked", "paste-check", "--branch", "apex").code == 0
    assert garden.ran("export", str(tmp_path / "plain")).code == 0
    other = own_garden(tmp_path / "two")

    assert other.ran("import", str(tmp_path / "plain")).code == 0
    assert [entry["measure"] for entry in other.log("elm")] == ["turn", "paste-check"]


def test_the_long_clock_runs_without_a_forecast_and_says_that_no_day_is_known_to_be_kind(tmp_path: Path) -> None:
    garden = own_garden(tmp_path)
    (garden.folder / "cold-night.json").write_text("{}", encoding="utf-8")
    found = garden.document("tasks")

    assert found["forecast_until"] is None
    assert found["no_forecast"]
    assert [error.message for error in Draft202012Validator(schema("tasks")).iter_errors(found)] == []
    assert of(found, "maple-layer-1", "untie")["first"] >= "2027-10-12"
    assert all(task["kindest"] == [] for task in found["tasks"])
    assert "No kindest days" in garden.ran("tasks").out


def test_what_is_asked_for_wrongly_is_refused(own: OwnGarden) -> None:
    assert "Did you mean old-layer" in own.refused("tasks", "old-layr", code=2)
    assert "between 1 and 18" in own.refused("tasks", "old-layer", "--months", "99", code=2)
    assert own.ran("tasks", "--at", "gestern").code == 2


def test_kindest_days_lie_inside_the_forecast_and_the_window(document: Document) -> None:
    until = document["forecast_until"]
    kind = [(task, day) for task in document["tasks"] for day in task["kindest"]]

    assert kind
    assert until is not None
    for task, day in kind:
        assert NOW.date().isoformat() <= day["on"] <= until
        assert task["state"] in ("overdue", "due", "soon", "put-off")


def test_as_of_another_moment_the_clock_stands_elsewhere(own: OwnGarden) -> None:
    """--at judges by what was known then; the old layer's entry of last year is in the log all along."""
    month_later = datetime(2026, 11, 12, 12, tzinfo=UTC)
    found = own.document("tasks", "--at", month_later.isoformat())

    assert found["at"].startswith("2026-11-12")


def test_the_rounds_tell_what_is_due(own: OwnGarden, document: Document) -> None:
    """But for the winter place of a tree that a call asks for on the same day: that goes first."""
    rounds = own.document("rounds")
    called = {tree for errand in rounds["today"] for tree in errand["trees"]}
    found = [task for task in document["tasks"] if task["state"] in ("overdue", "due")]
    due = [task for task in found if task["kind"] != "winter-place" or task["tree"] not in called]
    said = own.ran("rounds").out

    assert due
    assert len(due) < len(found)
    assert rounds["tasks"] == due
    assert "\nLong clock\n" in said
    assert due[0]["title"] in " ".join(said.split())


def test_the_service_has_the_tasks_in_the_hours_of_the_rounds_and_only_then(own: OwnGarden) -> None:
    """As plain values that go from process to process; outside of those hours nothing is reckoned."""
    tables = load_tables()
    garden = load(own.config, {}, NOW, tables).garden
    garden = replace(garden, log=(*garden.log, Entry("maple-layer-1", "observe", NOW - NINE_HOURS, seen="leaf-fall")))
    numbered = Numbered(tables.condition, tables.measures, tables.hazards, tables.forecast_errors, tables.tasks)
    candidate = Candidate("cold-night", recorded=str(own.folder / "cold-night.json"))
    options = SourceOptions(garden.site.latitude, garden.site.longitude)
    morning, evening = (judge_garden(Task(garden, candidate, options, numbered, at)) for at in (NOW, NOW + NINE_HOURS))
    bare = judge_garden(Task(garden, candidate, options, replace(numbered, tasks=None), NOW))

    assert pickle.loads(pickle.dumps(morning)).tasks == morning.tasks  # noqa: S301 - our own values
    assert {task.tree for task in morning.tasks if task.state == "due"}
    # Of the layer that has shed its leaves it is known where it would stay; the other one is green for weeks.
    assert morning.shelters == {"maple-layer-1": ("shed",)}
    assert (evening.tasks, evening.shelters, evening.refused) == ((), {}, "")
    assert (bare.tasks, bare.calls) == ((), morning.calls)


def test_explain_tells_each_deficit_and_draws_it(own: OwnGarden, tmp_path: Path) -> None:
    picture = tmp_path / "layer.svg"
    found = own.document("explain", "maple-layer-1", "--plot", str(picture))["recovery"]
    said = own.ran("explain", "maple-layer-1").out

    by_name = {deficit["deficit"]: deficit for deficit in found["deficits"]}
    assert set(by_name) == {"root supply", "anchorage", "young roots"}
    assert by_name["root supply"]["began"] == pytest.approx(0.15)
    assert by_name["anchorage"]["foreseen"]
    assert len(found["course"]) == 15
    assert ET.parse(picture).getroot().tag.endswith("svg")  # noqa: S314 - written by the line above
    assert "\nrecovery\n" in said
    assert "0.15 at first" in " ".join(said.split())


def test_a_picture_that_cannot_be_written_is_refused(own: OwnGarden, tmp_path: Path) -> None:
    said = own.refused("explain", "maple-layer-1", "--plot", str(tmp_path / "no" / "x.svg"), code=1)

    assert "Nothing was drawn" in said


def test_by_hand_the_winter_has_the_dates_and_places_that_the_service_told(tmp_path: Path) -> None:
    """The long clock reckons anew each day; what was sent stands, in the tasks, in the rounds and for the helper."""
    garden = own_garden(tmp_path)
    before = of(garden.document("tasks"), "olive", "winter-place")
    told, passed = NOW.date() - timedelta(days=1), NOW.date() - timedelta(days=400)
    assert before["last"] > told.isoformat()
    with garden.opened() as database, database.transaction(NOW) as transaction:
        dates = {"olive": told.isoformat(), "pine": passed.isoformat()}
        places = {"olive": "plunge", "pine": "nowhere"}
        put_facts(transaction, {DATES: json.dumps(dates), QUARTERS: json.dumps(places)})

    after = of(garden.document("tasks"), "olive", "winter-place")
    assert (after["last"], after["state"], after["about"]) == (told.isoformat(), "overdue", BANK)
    assert "olive (south-wall): bank the pot to its rim for the winter" in garden.ran("tasks").out
    (named,) = [task for task in garden.document("rounds")["tasks"] if task["tree"] == "olive"]
    assert (named["last"], named["state"], named["about"]) == (told.isoformat(), "overdue", BANK)
