"""The documents keep the shape that their schemas promise, and the schemas notice when they do not."""

import copy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.outlook.gardens import (
    BENCH,
    LAWN,
    SHADE,
    SHED,
    STOCK,
    Document,
    Garden,
    planted,
    ran,
    schema,
    seen,
    severed,
    tree,
)
from tests.outlook.invented_weather import Day, answer

OUTLOOK, EXPLAIN = (Draft202012Validator(schema(name)) for name in ("outlook", "explain"))
NOON = datetime(2026, 5, 8, 11, tzinfo=UTC)


def complaints(validator: Draft202012Validator, document: Document) -> list[str]:
    """What the schema says against a document."""
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(document)]


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    """Four trees in four places before a frosty and windy night in May; there is something in every list."""
    mild = Day(low_c=6, high_c=16, dew_c=5, cloud=60, wind_ms=2.5)
    bad = Day(low_c=-2, high_c=11, dew_c=-4, cloud=0, wind_ms=2)
    gusty = Day(low_c=4, high_c=27, dew_c=1, cloud=10, wind_ms=12)
    return planted(
        tmp_path_factory.mktemp("garden"),
        answer(NOON, mild, [mild, bad, gusty]),
        NOON,
        LAWN + BENCH + SHADE + SHED,
        tree("layer", "lawn", severed("sparse", "2026-04-12"), seen("leaf-out", "2026-05-01")),
        tree("pine", "bench", species="Pinus", fixed="true"),
        tree("elm", "shade", species="Ulmus parvifolia"),
        tree("fig", "shed", species="Ficus"),
        stock=STOCK,
    )


def test_an_outlook_keeps_its_schema(garden: Garden) -> None:
    document = garden.asked("outlook")

    assert complaints(OUTLOOK, document) == []
    assert any(tree["spells"] for tree in document["trees"])
    assert any(
        measure["chosen"] for tree in document["trees"] for spell in tree["spells"] for measure in spell["measures"]
    )
    assert any(tree["not_possible"] for tree in document["trees"])
    assert document["forecast"]["estimated"]


@pytest.mark.parametrize("name", ["layer", "pine", "elm", "fig"])
def test_an_explanation_keeps_its_schema(garden: Garden, name: str) -> None:
    """Whether a tree is in danger or not, in leaf or not."""
    assert complaints(EXPLAIN, garden.explain(name)) == []


def test_an_explanation_repeats_the_outlook_of_its_tree(garden: Garden) -> None:
    """Both commands tell one truth, and `outlook TREE` is the same with the others left out."""
    document = garden.asked("outlook")
    parts = {part["tree"]: part for part in document["trees"]}
    alone = garden.asked("outlook", "layer")

    assert list(parts) == ["layer", "pine", "elm", "fig"]
    assert garden.explain("layer")["tree"] == parts["layer"]
    assert garden.explain("elm")["tree"] == parts["elm"]
    assert alone == {**document, "trees": [parts["layer"]]}
    assert garden.explain("layer")["forecast"] == document["forecast"]


def test_the_same_question_gives_the_same_answer(garden: Garden) -> None:
    """There is no chance in a judgement: what changes from one run to the next is the weather or the trees."""
    again = ran("outlook", "layer", "--config", str(garden.config), "--at", garden.at.isoformat(), "--json")

    assert again.document() == garden.asked("outlook", "layer")


def required_places(document: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of every key of every table in a document, one table of each list."""
    if isinstance(document, dict):
        below = [place for key, value in document.items() for place in required_places(value, (*path, key))]
        return [*((*path, key) for key in document), *below]
    if isinstance(document, list) and document:
        return required_places(document[0], (*path, 0))
    return []


def shortened(value: Any) -> Any:
    """A document with one item left of each list."""
    if isinstance(value, dict):
        return {key: shortened(item) for key, item in value.items()}
    return [shortened(item) for item in value[:1]] if isinstance(value, list) else value


def without(document: Document, path: tuple[str | int, ...]) -> Document:
    """A copy of a document that lacks one key."""
    changed = copy.deepcopy(document)
    table: Any = changed
    for part in path[:-1]:
        table = table[part]
    del table[path[-1]]
    return changed


@pytest.mark.parametrize("name", ["outlook", "explain"])
def test_every_key_that_is_left_out_is_missed(garden: Garden, name: str) -> None:
    """Only what is keyed by a name of the garden's own may be absent: measures that cannot be taken."""
    whole = garden.asked("outlook") if name == "outlook" else garden.explain("layer")
    # More of the same adds nothing here but time.
    whole = shortened(whole)
    validator = OUTLOOK if name == "outlook" else EXPLAIN
    places = [path for path in required_places(whole) if "not_possible" not in path[:-1]]

    missed = [path for path in places if not validator.is_valid(without(whole, path))]

    assert len(places) > 60
    assert [path for path in places if path not in missed] == []


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("version",), 2),
        (("at",), "2026-05-08 13:00"),
        (("site", "latitude"), 900),
        (("forecast", "members"), 0),
        (("trees", 0, "stage"), "green"),
        (("trees", 0, "fragility", "root_supply"), 1.2),
        (("trees", 0, "spells", 0, "probability"), -0.1),
        (("trees", 0, "spells", 0, "hazard"), "Frost"),
        (("trees", 0, "spells", 0, "severity"), "severe"),
        (("trees", 0, "spells", 0, "peak", "unit"), "K"),
        (("trees", 0, "spells", 0, "loss"), None),
        (("trees", 0, "surprise"), 1),
    ],
    ids=lambda value: ".".join(map(str, value)) if isinstance(value, tuple) else None,
)
def test_a_value_that_cannot_be_is_refused(garden: Garden, path: tuple[str | int, ...], wrong: object) -> None:
    """The schema says more than which keys there are."""
    changed = copy.deepcopy(garden.asked("outlook"))
    table: Any = changed
    for part in path[:-1]:
        table = table[part]
    table[path[-1]] = wrong

    assert not OUTLOOK.is_valid(changed)


def test_what_both_documents_share_is_described_once() -> None:
    """The two files repeat their common definitions word for word."""
    shared, own = schema("outlook")["$defs"], schema("explain")["$defs"]

    assert {name: own[name] for name in shared} == shared


def test_every_part_of_a_schema_says_what_it_is() -> None:
    """A reader finds a description at every property, or at the definition that it names."""
    for name in ("outlook", "explain"):
        whole = schema(name)
        tables = [whole, *whole["$defs"].values()]
        properties = [item for table in tables for item in table.get("properties", {}).items()]
        silent = [
            key
            for key, item in properties
            if "description" not in item
            and "description" not in whole["$defs"].get(item.get("$ref", "").rpartition("/")[2], {})
            and "const" not in item
            and item != {"type": "integer", "minimum": 0}
        ]
        assert silent == []


def test_the_series_of_an_explanation_are_one_value_an_hour_with_the_median_inside_its_range(garden: Garden) -> None:
    """Half of the courses lie on either side of the median, eight in ten within the range."""
    document = garden.explain("layer")
    hours = len(document["times"])

    assert hours == document["forecast"]["hours"]
    for band in document["series"].values():
        assert [len(band[part]) for part in ("q10", "median", "q90")] == [hours] * 3
        assert all(
            low <= middle <= high for low, middle, high in zip(band["q10"], band["median"], band["q90"], strict=True)
        )


def test_the_numbers_of_a_spell_hang_together(garden: Garden) -> None:
    """A spell begins before its peak and ends after it, is acted on before, and is chosen against at most once."""
    spells = [spell for tree in garden.asked("outlook")["trees"] for spell in tree["spells"]]

    assert spells
    for spell in spells:
        moments = {key: datetime.fromisoformat(spell[key]) for key in ("starts", "peak_at", "ends", "act_by")}
        assert moments["starts"] < moments["peak_at"] <= moments["ends"]
        assert moments["act_by"] >= garden.at
        cold = spell["hazard"] in ("frost", "root-freeze")
        assert spell["damage"] <= spell["probability"] + 1e-9
        assert spell["hazard"] in ("heat", "root-heat") or (spell["peak"]["value"] < spell["limit"]["value"]) == cold
        assert sum(measure["chosen"] for measure in spell["measures"]) <= 1


def test_it_is_said_that_a_genus_serves_for_a_species(tmp_path: Path) -> None:
    """On the screen of the outlook and of an explanation, and in both documents; of what has a row nothing is said."""
    mild = Day(low_c=6, high_c=16, dew_c=5, cloud=60, wind_ms=2.5)
    trees = (tree("larch", "lawn", species="Larix sibirica"), tree("pine", "lawn", species="Pinus"))
    grown = planted(tmp_path, answer(NOON, mild, [mild, mild]), NOON, LAWN, *trees)
    asked = ("--config", str(grown.config), "--at", NOON.isoformat())
    note = "Larix sibirica: the table's numbers for the genus Larix serve."

    assert note in ran("explain", "larch", *asked).out.replace("\n", " ")
    assert note in ran("outlook", *asked).out.replace("\n", " ")
    assert grown.outlook("larch")["notes"] == [note]
    assert grown.outlook("pine")["notes"] == []
