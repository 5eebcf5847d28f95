"""Which measures can be thought of for a tree, and the reason that is told against each other."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.care.garden import Stock
from carewatch.care.tree import Tree
from carewatch.condition.now import Condition
from carewatch.hazard.spells import Spell
from carewatch.measures.candidates import candidates, fleece_m2, net_m2, too_windy
from tests.condition.grown import TABLES, on, severed, tree, year_like
from tests.measures.gardens import PLENTY, garden

YEARS = year_like("2024-09-01", "2027-12-31")
MEASURES = TABLES.measures


def _spell(hazard: str, hours: int = 8) -> Spell:
    start = np.datetime64("2026-07-10T18:00:00", "s")
    return Spell(
        hazard=hazard,
        first=1,
        last=hours,
        starts=start,
        ends=start + hours * np.timedelta64(3600, "s"),
        peak_at=start,
        peak=-4.0,
        limit=-2.0,
        unit="°C",
        probability=0.8,
        damage=0.5,
        loss=0.2,
        loss_if=0.25,
        severity="Moderate",
        certainty="Likely",
    )


def _maple(day: str = "2026-07-10", place: str = "bench") -> Condition:
    return replace(on(day, [], YEARS), place=place)


def _wanted(
    condition: Condition,
    *hazards: str,
    stock: Stock = PLENTY,
    shed_room: int | None = 10,
    hours: int = 8,
    used: dict[str, int] | None = None,
    direct_kwh: float = 4.0,
) -> tuple[set[str], dict[str, str]]:
    place = garden([condition.tree], stock=stock, shed_room=shed_room)
    chosen, against = candidates(
        condition, [_spell(hazard, hours) for hazard in hazards], place, MEASURES, used or {}, direct_kwh
    )
    return {candidate.name for candidate in chosen}, against


def test_only_what_acts_on_the_hazard_is_tried() -> None:
    """And every place that it could be carried to."""
    chosen, _ = _wanted(_maple(), "frost")
    assert {"fleece", "fleece-heavy", "fleece-double"} <= chosen
    assert {"move:lawn", "move:frame", "move:shed", "move:wall"} <= chosen
    assert not {"shade-cloth", "water", "tie-down", "move:bench"} & chosen
    for name in chosen:
        assert "frost" in MEASURES[name.partition(":")[0]].hazards


def test_what_is_in_force_for_good_is_not_tried_again() -> None:
    """A mulched pot is mulched."""
    state = replace(_maple("2026-01-15"), measures=("mulch",))
    chosen, against = _wanted(state, "root-freeze")
    assert "mulch" not in chosen
    assert "mulch" not in against
    assert "insulate-pot" in chosen


@pytest.mark.parametrize(
    ("grown", "says"),
    [(tree(fixed=True), "fixed where it stands"), (tree(volume_l=30.0), "more than one person lifts")],
    ids=["fixed", "heavy"],
)
def test_what_cannot_be_lifted_stays(grown: Tree, says: str) -> None:
    """No move, no setting down, no laying down; covers remain."""
    chosen, against = _wanted(replace(_maple(), tree=grown), "frost", "root-freeze", "wind")
    assert not {name for name in chosen if MEASURES[name.partition(":")[0]].carries}
    for name in ("move:shed", "set-down", "lay-down"):
        assert says in against[name], name
    assert "fleece" in chosen


def test_a_wet_litre_weighs_one_kilogram_and_a_half() -> None:
    """1.4 kg per litre and a tenth for the pot (common practice): 13 litres are just what one person lifts."""
    assert tree(volume_l=10.0).wet_mass_kg() == pytest.approx(15.4)
    for volume, can in ((12.9, True), (13.1, False)):
        chosen, _ = _wanted(replace(_maple(), tree=tree(volume_l=volume)), "frost")
        assert ("move:shed" in chosen) is can


def test_a_full_place_takes_nobody() -> None:
    """Room is counted in pots."""
    chosen, against = _wanted(_maple(), "frost", shed_room=2, used={"shed": 2})
    assert "move:shed" not in chosen
    assert against["move:shed"] == "no room is left there"
    assert "move:shed" in _wanted(_maple(), "frost", shed_room=2, used={"shed": 1})[0]


@pytest.mark.parametrize("hours", [60, 100])
def test_a_dark_place_is_tried_however_long_the_danger_lasts(hours: int) -> None:
    """What the dark costs leaves is judged like any other harm (limits.shelter): no bar decides before it."""
    assert "move:shed" in _wanted(_maple(), "frost", hours=hours)[0]


def test_a_hardy_tree_never_goes_into_a_warm_room() -> None:
    """Buds would move (common practice); a tender one may."""
    _, against = _wanted(_maple("2026-01-15"), "root-freeze")
    assert against["move:room"] == "a hardy tree does not go into a warm room"
    ficus = on("2026-01-15", [], YEARS, tree("fig", "Ficus microcarpa"))
    assert "move:room" in _wanted(ficus, "frost")[0]


def test_cloth_that_is_not_there_cannot_be_hung() -> None:
    """Each kind by its own need; two layers need twice the cloth."""
    need = fleece_m2(_maple())
    assert need == pytest.approx(0.3**2 + 4 * 0.3 * 0.59)
    bare = Stock(need * 1.5, 0.0, 0, mulch=False)
    chosen, against = _wanted(_maple(), "frost", "drying", "root-freeze", stock=bare)
    assert {"fleece", "fleece-heavy"} <= chosen
    for name, kind in (
        ("fleece-double", "fleece"),
        ("shade-cloth", "net"),
        ("windbreak", "net"),
        ("humid-tent", "tent"),
        ("plunge", "mulch"),
        ("mulch", "mulch"),
    ):
        assert against[name] == f"not enough {kind} in stock", name
    assert net_m2(_maple()) == pytest.approx(2 * 0.7**2)


def test_places_forbid_what_makes_no_sense_there() -> None:
    """Sinking into paving, fleece in a shed, setting down on the ground, opening what is open."""
    paved = _wanted(_maple(place="wall"), "root-freeze", "heat")[1]
    assert paved["plunge"] == "there is no soil to sink the pot into"
    assert paved["set-down"] == "it stands on the ground already"
    assert paved["ventilate"] == "it does not stand under glass"
    inside = _wanted(_maple(place="frame"), "frost", "heat")
    assert inside[1]["fleece"] == "it stands inside"
    assert "ventilate" in inside[0]
    assert "plunge" in _wanted(_maple(place="lawn"), "root-freeze")[0]


def test_a_closed_tent_belongs_in_the_shade() -> None:
    """It passes 35 °C in the sun in half an hour (common practice)."""
    assert "cooks the leaves" in _wanted(_maple(), "drying", direct_kwh=3.0)[1]["humid-tent"]
    assert "humid-tent" in _wanted(_maple(), "drying", direct_kwh=0.5)[0]


def test_an_untied_layer_is_not_laid_down() -> None:
    """It would break its roots."""
    for tied in (False, True):
        layer = replace(on("2026-06-25", [severed("2026-06-20", tied=tied)], YEARS), place="bench")
        chosen, against = _wanted(layer, "wind")
        assert ("lay-down" in chosen) is tied
        assert ("lay-down" in against) is not tied


def test_what_is_begun_stays_on_trial() -> None:
    """It is the way things stand; no stock and no room is asked for it again."""
    state = replace(_maple(), begun=("fleece", "move:shed"))
    place = garden([state.tree], stock=Stock(0.0, 0.0, 0, mulch=False), shed_room=0)
    chosen, _ = candidates(state, [_spell("frost")], place, MEASURES, {}, 4.0)
    begun = {candidate.name for candidate in chosen if candidate.begun}
    assert begun == {"fleece", "move:shed"}
    assert [candidate.name for candidate in chosen].count("fleece") == 1


def test_covers_stay_in_their_bag_in_a_gale() -> None:
    """Nine members in ten must lie below what the cover bears."""
    calm, gale = np.full((10, 20), 5.0), np.full((10, 20), 5.0)
    gale[:, :3] = 16.0
    fleece = MEASURES["fleece"]
    assert not too_windy(fleece, calm)
    assert too_windy(fleece, gale)
    assert not too_windy(MEASURES["mulch"], gale)
    assert not too_windy(fleece, np.empty((0, 0)))
