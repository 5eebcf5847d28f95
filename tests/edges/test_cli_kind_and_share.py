"""A tree of a genus that no table has, and a scorch of which the share is known, through the commands."""

from pathlib import Path

import pytest

from tests.edges.own_garden import OwnGarden, own_garden


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path)


def rewritten(own: OwnGarden, old: str, new: str) -> None:
    text = own.config.read_text(encoding="utf-8")
    assert old in text
    own.config.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_genus_that_is_not_known_is_refused_with_what_to_do(own: OwnGarden) -> None:
    rewritten(own, 'species = "Acer palmatum"', 'species = "Davidia involucrata"')
    said = own.refused("outlook", code=2)
    assert "Davidia involucrata" in said
    assert "or any with the key kind, one of: deciduous-broadleaf, evergreen-broadleaf, conifer" in said


def test_with_its_kind_it_is_judged_and_the_outlook_says_so(own: OwnGarden) -> None:
    rewritten(own, 'species = "Acer palmatum"', 'kind = "deciduous-broadleaf"\nspecies = "Davidia involucrata"')
    trees = {tree["tree"]: tree for tree in own.document("outlook")["trees"]}
    layer = trees["maple-layer-1"]
    assert layer["species"] == "Davidia involucrata"
    assert any("class deciduous-broadleaf serve" in note for note in layer["notes"])


def test_a_kind_that_is_misspelt_is_named_with_the_nearest(own: OwnGarden) -> None:
    rewritten(own, 'species = "Acer palmatum"', 'kind = "conifr"\nspecies = "Davidia involucrata"')
    said = own.refused("outlook", code=2)
    assert "kind of tree" in said
    assert "did you mean conifer?" in said
    assert "1 problem" in said


def test_a_layer_of_such_a_tree_is_of_its_kind(own: OwnGarden) -> None:
    rewritten(own, 'species = "Acer palmatum"', 'kind = "tender"\nspecies = "Davidia involucrata"')
    assert own.ran("log", "maple-layer-1", "sever-layer", "--new", "d-2", "--pot", "3", "--roots", "fair").code == 0
    trees = {tree["tree"]: tree for tree in own.document("outlook")["trees"]}
    assert trees["d-2"]["species"] == "Davidia involucrata"


def test_a_scorch_may_say_its_share_and_other_sights_have_none(own: OwnGarden) -> None:
    said = own.ran("log", "maple-layer-1", "observe", "scorch", "--removed", "0.2")
    assert said.code == 0
    assert "observe scorch, 20 % of the leaves" in said.out
    assert own.log("maple-layer-1")[0]["removed"] == 0.2
    assert "a share only with scorch" in own.refused(
        "log", "old-maple", "observe", "mature", "--removed", "0.2", code=2
    )
    exported = own.folder / "out"
    assert own.ran("export", str(exported)).code == 0
    assert "scorch" in "".join(path.read_text(encoding="utf-8") for path in exported.rglob("*") if path.is_file())
