"""`log` and `reading`: what is written down is checked, kept, understood, and reckoned with from then on."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import misfits, with_log
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from tests.edges.own_garden import NOW, OwnGarden, own_garden
from tests.outlook.gardens import Document, ran

SEVERED = ("log", "juniper", "sever-layer", "--roots", "sparse", "--roots-worked", "--on", "2026-11-04")


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path)


@pytest.fixture(scope="module")
def severed(tmp_path_factory: pytest.TempPathFactory) -> tuple[OwnGarden, Document, str]:
    """A garden in which the juniper is severed by a command, its outlook before that, and what the command said."""
    own = own_garden(tmp_path_factory.mktemp("severed"))
    before = own.document("outlook", "juniper")["trees"][0]
    done = own.ran(*SEVERED, "--note", "few roots, combed out")
    assert done.code == 0, done.err
    return own, before, done.out


def test_the_outlook_reckons_with_what_was_logged(severed: tuple[OwnGarden, Document, str]) -> None:
    own, before, _ = severed

    after = own.document("outlook", "juniper")["trees"][0]

    assert not before["fragility"]["layer_in_first_year"]
    assert after["fragility"]["layer_in_first_year"]
    assert after["fragility"]["root_supply"] < 0.2 < before["fragility"]["root_supply"]
    assert before["spells"] == []
    assert "wind" in {spell["hazard"] for spell in after["spells"]}


def test_an_earlier_moment_is_judged_by_what_was_known_then(severed: tuple[OwnGarden, Document, str]) -> None:
    """The entry was recorded at 12:30 at the site, half an hour after the moment that is asked for."""
    own, before, _ = severed

    then = own.document("outlook", "juniper", "--at", "2026-11-05T12:00")["trees"][0]

    assert then["fragility"] == before["fragility"]


def test_the_explanation_names_the_logged_work(severed: tuple[OwnGarden, Document, str]) -> None:
    own, _, _ = severed

    works = own.document("explain", "juniper")["works"]

    assert [(work["on"], work["work"]) for work in works] == [("2026-11-04", "sever-layer.sparse.worked")]


def test_the_weakest_state_is_named_with_the_winter_place_it_needs(severed: tuple[OwnGarden, Document, str]) -> None:
    """Roots worked at once on a sparse layer: common practice calls nothing weaker."""
    _, _, said = severed

    assert "juniper: sever-layer, roots sparse, roots worked on 2026-11-04 logged as entry 1." in said
    assert "This is the weakest state there is" in said
    assert "absolutely still until 4 Nov 2027" in said
    assert "winter place" in said
    assert "shed would do" in said
    assert "once, level and tied" in said


def test_a_fresh_layer_on_high_is_advised_to_stand_on_the_ground_at_once_and_not_later(own: OwnGarden) -> None:
    """Fresh layers on the ground (common practice); weeks later a carry would do more harm than the height."""
    for tree, place in (("elm", "bench"), ("pine", "lawn"), ("larch", "shed")):
        assert own.ran("log", tree, "move", "--to", place, "--on", "2026-10-01").code == 0
    told = {tree: own.ran("log", tree, "sever-layer", "--roots", "fair").out for tree in ("elm", "pine", "larch")}

    assert "stands a fresh layer on the ground" in told["elm"]
    assert "bench is 80 cm high" in told["elm"]
    assert "on the ground" not in told["pine"] + told["larch"]
    assert "on the ground" not in own.ran("log", "juniper", "sever-layer", "--roots", "fair", "--on", "2026-10-05").out


def test_a_stronger_layer_is_not_called_the_weakest(own: OwnGarden) -> None:
    said = own.ran("log", "elm", "sever-layer", "--roots", "dense").out

    assert "absolutely still until 5 Nov 2027" in said
    assert "weakest" not in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("root-prune --removed 0.33", "its roots feed about 59 % of the crown"),
        ("root-prune --removed 0.33", "at most about 2 hours of full sun a day for three weeks"),
        ("defoliate --removed 1", "it has no leaves and drinks next to nothing"),
        (
            "graft",
            "its union lets through about 10 % of the water that the crown asks for: no direct sun for three weeks",
        ),
        ("wire", "its wired branches get about 95 % of their water"),
        ("move --to shed", "It stands at shed from then on."),
        ("water", "goes on reckoning with its habit (daily)"),
        ("observe leaf-fall", "what you saw (its leaves have fallen)"),
        ("observe leaf-fall --on 2026-06-20", "These leaves count as lost before their time"),
        ("observe scorch", "30 % of its leaves count as burnt (say how much with --removed)"),
        ("observe scorch --removed 0.4", "40 % of its leaves count as burnt, until others have grown."),
        ("observe new-growth --on 2026-06-20", "what grows again counts from then"),
        ("observe dead", "You will hear of it no more, and its tasks rest."),
        ("set-layer --branch low", "its roots harden less for the winter"),
        ("observe wilting", "they count for 80 % of what was thought from then on"),
        ("observe firm", "125 % of what was thought from then on (leaves seen firm), for whole roots at most"),
        ("begin fleece", "From then on it is under fleece by night, until you log its end."),
        ("begin move:shed", "From then on it stands in shed, until you log its end."),
        ("tie-down", "It counts as tied from then on."),
        ("wire --branch top --gauge 2.5", "wire on top, 2.5 mm on 2026-11-05"),
        ("sacrifice --branch trunk", "planned to go by 20 Aug 2027, late in the next summer"),
        ("sacrifice --branch trunk --due 2028-09-01", "planned to go by 1 Sep 2028; log cut-off --branch"),
        ("cut-off --branch low --paste", "Frost can reach the rim of its fresh cut for 21 days"),
        ("feed", "A note for you; no number changes by it."),
        ("repot --on 2025-04-01", "What is left of it today stands in `carewatch explain elm`."),
    ],
)
def test_an_entry_is_answered_with_what_it_means(own: OwnGarden, arguments: str, said: str) -> None:
    done = own.ran("log", "elm", *arguments.split(), "--dry-run")

    assert done.code == 0, done.err
    assert said in done.out


def test_a_work_is_done_once_a_day_wherever_it_stands(own: OwnGarden) -> None:
    in_file = own.refused("log", "maple-layer-1", "sever-layer", "--roots", "fair", "--on", "2026-10-12", code=1)
    assert "in the care log already (config.toml line" in in_file

    assert own.ran(*SEVERED).code == 0
    assert "(entry 1 of the database)" in own.refused(*SEVERED, code=1)
    assert len(own.log("juniper")) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("jumiper water", ["There is no tree 'jumiper'. Did you mean juniper?"]),
        ("elm watter", ["WORK is not a known work", "did you mean water?"]),
        ("elm sever-layer", ["--roots is missing"]),
        ("elm sever-layer --roots many", ['--roots is not accepted; found "many"']),
        ("elm root-prune", ["--removed is missing"]),
        ("elm root-prune --removed 1.3", ["--removed is out of range", '"1.3"', "over 0 and up to 1"]),
        ("elm root-prune --removed half", ["--removed is of the wrong kind", '"half"']),
        ("elm wire --removed 0.3", ["--removed has no meaning with wire"]),
        ("elm wire --roots fair", ["--roots has no meaning with wire", "only with sever-layer"]),
        ("elm water --tied", ["--tied has no meaning with water"]),
        ("elm observe wilting --paste", ["--paste has no meaning with observe"]),
        ("elm root-prune --removed 0.3 --gauge 2", ["--gauge has no meaning with root-prune", "only with wire, bend"]),
        ("elm wire --gauge 40", ["--gauge is out of range", "millimetres of wire, 0.3 to 12"]),
        ("elm wire --gauge thick", ["--gauge is of the wrong kind"]),
        ("elm sacrifice", ["--branch is missing"]),
        ("elm sacrifice --branch low --due 2026-11-05", ["--due is not after the day on which it is planned"]),
        ("elm sacrifice --branch low --due soon", ["--due is of the wrong kind"]),
        ("elm wire --due 2027-08-20", ["--due has no meaning with wire", "only with sacrifice"]),
        ("elm cut-off --removed 1", ["--removed leaves nothing of the tree"]),
        ("elm cut-off --other-tree Elm", ["--other-tree is not a valid id", "did you mean elm?"]),
        ("elm water a b", ["'b' is one word too many after a"]),
        ("elm wire --on 2026-11-06", ["--on lies in the future (today is 2026-11-05)"]),
        ("elm wire --on tomorrow", ["--on is no date"]),
        ("elm move", ["--to is missing"]),
        ("elm move --to she", ["--to is not a known place", "did you mean shed?"]),
        ("elm observe", ["SEEN is missing", "one of: bud-swell, leaf-out"]),
        ("elm observe colored", ["SEEN is not a known observation", "did you mean colouring?"]),
        ("elm begin fleese", ["MEASURE is not a known measure", "did you mean fleece?"]),
        ("elm water twice", ["'twice' is one word too many after water"]),
        ("elm move shed", ["'shed' is one word too many after move; what was done is told by --to shed."]),
        ("elm show --tied", ["takes no further options"]),
        ("elm strike", ["by its number"]),
        (
            "elm root-prune --removed 2 --on 2027-01-01",
            ["--on lies in the future", "--removed is out of range", "0.3 for 30 %"],
        ),
    ],
)
def test_what_cannot_be_is_refused_as_it_was_typed(own: OwnGarden, arguments: str, said: list[str]) -> None:
    words = own.refused("log", *arguments.split(), code=2)

    for part in said:
        assert part in words
    assert not own.database.exists()


def test_a_measure_begins_before_it_ends_and_not_twice(own: OwnGarden) -> None:
    assert "Nothing was in force then." in own.refused("log", "elm", "end", "fleece", code=1)
    assert own.ran("log", "elm", "begin", "fleece").code == 0
    assert "has been in force on elm since 2026-11-05 12:30" in own.refused("log", "elm", "begin", "fleece", code=1)
    assert "In force then: fleece." in own.refused("log", "elm", "end", "mulch", code=1)
    assert own.ran("log", "elm", "end", "fleece", at=NOW + timedelta(hours=1)).code == 0
    assert [entry["work"] for entry in own.log("elm")] == ["begin", "end"]


def test_todays_date_before_noon_means_now(own: OwnGarden) -> None:
    """What lies ahead is not reckoned with, so that a bare date's noon would hide the morning's work until then."""
    morning = datetime(2026, 11, 5, 8, 15, tzinfo=UTC)

    entry = own.document("log", "elm", "wire", "--on", "2026-11-05", at=morning)["entry"]

    assert entry["at"] == "2026-11-05T09:15+01:00"
    assert own.document("log", "pine", "wire", "--on", "2026-11-04", at=morning)["entry"]["at"].startswith(
        "2026-11-04T12:00"
    )


def test_show_lists_the_entries_of_files_and_database_and_struck_ones_when_asked(own: OwnGarden) -> None:
    assert own.ran("log", "elm", "water", "--note", "by hand").code == 0
    assert own.ran("log", "elm", "wire", "--on", "2026-11-01").code == 0
    struck = own.ran("log", "elm", "strike", "2")
    assert "entry 2 (wire on 2026-11-01) is struck" in struck.out

    shown = own.document("log", "elm", "show")["entries"]
    assert [(entry["work"], entry["number"]) for entry in shown] == [("observe", None), ("water", 1)]
    assert shown[0]["origin"].startswith("config.toml line ")
    everything = own.ran("log", "elm", "show", "--all").out
    assert "“by hand”" in everything
    assert "wire  [entry 2 of the database]  struck 2026-11-05" in everything

    assert "was struck on 2026-11-05" in own.refused("log", "elm", "strike", "2", code=1)
    assert "pine has no entry 1" in own.refused("log", "pine", "strike", "1", code=1)


def test_a_dry_run_checks_everything_and_writes_nothing(own: OwnGarden) -> None:
    rehearsed = own.ran(*SEVERED, "--dry-run")
    assert rehearsed.code == 0
    assert "would be logged" in rehearsed.out
    assert "Dry run: nothing was written." in rehearsed.out
    assert own.ran("reading", "lawn", "3", "--dry-run").code == 0
    assert not own.database.exists()

    assert own.ran("log", "elm", "water").code == 0
    before = own.database.read_bytes()
    assert own.document(*SEVERED, "--dry-run")["dry_run"]
    assert "already (entry 1" in own.refused("log", "elm", "water", "--dry-run", code=1)
    assert own.ran("log", "elm", "strike", "1", "--dry-run").code == 0
    assert own.ran("reading", "lawn", "3", "--dry-run").code == 0
    assert own.database.read_bytes() == before


def garden_of(own: OwnGarden) -> Garden:
    return load(own.config, {}, NOW, load_tables()).garden


def test_one_log_is_made_of_both_and_nothing_counts_twice(own: OwnGarden) -> None:
    """Severed twice by mistake, in the file and in the database, a layer would seem to have lost its roots twice."""
    garden = garden_of(own)
    in_file = next(entry for entry in garden.log if entry.work == "sever-layer" and entry.tree == "maple-layer-1")
    twice = replace(in_file, at=in_file.at + timedelta(hours=3), origin="entry 1 of the database")
    late = Entry("elm", "wire", datetime(2026, 11, 3, 23, 30, tzinfo=UTC))

    whole = with_log(garden, (twice, late))

    assert len(whole.log) == len(garden.log) + 1
    assert list(whole.log) == sorted(whole.log, key=lambda entry: (entry.at, entry.tree))
    # Days are those of the site: 23:30 UTC is the next day there.
    assert next(entry for entry in whole.log if entry.work == "wire").at.date().isoformat() == "2026-11-04"


def test_entries_that_no_longer_fit_the_garden_are_left_out_and_told(own: OwnGarden) -> None:
    """A place that was taken out of the configuration must not stop the outlook of every tree."""
    garden = garden_of(own)
    gone = Entry("elm", "move", NOW, to="greenhouse", origin="entry 1 of the database")
    away = Entry("elm", "begin", NOW, measure="move:greenhouse", origin="entry 2 of the database")
    sold = Entry("sold-tree", "water", NOW, origin="entry 3 of the database")

    assert with_log(garden, (gone, away, sold)) == with_log(garden, ())
    first, second = misfits(garden, (gone, away, sold))
    assert first == (
        "entry 1 of the database: move of elm on 2026-11-05 is left out: the garden has no place greenhouse."
    )
    assert second.startswith("entry 2 of the database: begin of elm")


@pytest.mark.parametrize(
    "arguments",
    ["log elm water", "log elm show", "reading lawn 3", "outlook", "explain elm", "rounds", "answer last done"],
)
def test_a_database_of_a_newer_version_is_left_alone(own: OwnGarden, arguments: str) -> None:
    own.age_beyond_this_version()
    before = own.database.read_bytes()

    assert "written by a newer carewatch" in own.refused(*arguments.split(), code=1)
    assert own.database.read_bytes() == before


def test_a_folder_that_cannot_be_written_is_named(own: OwnGarden) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    own.folder.joinpath("clock.txt").write_text(NOW.isoformat(), encoding="utf-8")
    own.folder.chmod(0o500)
    try:
        assert "cannot be written" in own.refused("log", "elm", "water", code=1)
    finally:
        own.folder.chmod(0o700)


def test_a_broken_configuration_is_told_with_all_its_problems(own: OwnGarden) -> None:
    own.config.write_text(own.config.read_text(encoding="utf-8").replace("latitude = 50.3", "latitude = 900"))

    words = own.refused("log", "elm", "water", code=2)

    assert "site.latitude is out of range" in words
    assert not own.database.exists()


def test_a_clock_that_cannot_be_read_stops_everything(own: OwnGarden, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAREWATCH_CLOCK", f"file:{own.folder / 'nowhere'}")
    done = ran("log", "elm", "water", "--config", str(own.config))

    assert (done.code, done.out) == (2, "")
    assert "cannot be read" in done.err


def test_feeding_after_root_work_is_logged_with_the_pause_that_practice_keeps(own: OwnGarden) -> None:
    assert own.ran("log", "elm", "root-prune", "--removed", "0.3", "--on", "2026-10-01").code == 0

    said = own.ran("log", "elm", "feed").out

    assert "four to six weeks after root work, and root-prune was on 1 Oct 2026" in said
    assert "wait until 12 Nov 2026" in said
    assert "four to six weeks" not in own.ran("log", "pine", "feed").out


def test_a_planned_removal_is_listed_until_it_is_done(own: OwnGarden) -> None:
    assert own.ran("log", "elm", "sacrifice", "--branch", "leader", "--on", "2025-05-01").code == 0

    assert own.document("log", "elm")["planned"] == [
        {"branch": "leader", "due": "2026-08-20", "origin": "entry 1 of the database"}
    ]
    assert "planned: leader is to go by 2026-08-20" in own.ran("log", "elm").out
    assert own.ran("log", "elm", "cut-off", "--branch", "leader", "--removed", "0.3").code == 0
    assert own.document("log", "elm")["planned"] == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("elm unwire --branch top", "no wire was set on top before"),
        ("elm untie", "no ties were set before"),
        ("elm end fleece", "Nothing was in force then."),
        ("elm observe mature", "colouring was seen on 2026-10-31 (config.toml line"),
    ],
)
def test_what_hardly_can_be_is_questioned_and_taken_when_it_is_sure(own: OwnGarden, arguments: str, said: str) -> None:
    """A log knows only what was written down: a wire may have been set before it began."""
    words = own.refused("log", *arguments.split(), code=1)

    assert said in words
    assert words.rstrip().endswith("If it is so all the same, add --sure.")
    assert own.log("elm") == []
    assert own.ran("log", *arguments.split(), "--sure").code == 0
    assert len(own.log("elm")) == 1


def test_what_cannot_be_is_refused_however_sure_one_is(own: OwnGarden) -> None:
    assert own.ran("log", "elm", "move", "--to", "shed", "--on", "2026-11-01").code == 0
    for arguments, said in (
        (("elm", "move", "--to", "bench", "--on", "2026-11-01"), "it was moved to shed (entry 1 of the database)"),
        (("maple-layer-1", "sever-layer", "--roots", "fair"), "it was severed on 2026-10-12 (config.toml line"),
        (("maple-layer-1", "repot", "--on", "2026-03-01"), "A branch has no roots of its own"),
    ):
        words = own.refused("log", *arguments, "--sure", code=1)
        assert said in words
        assert "--sure" not in words
    assert own.ran("log", "elm", "move", "--to", "bench", "--on", "2026-11-01T17:00").code == 0


def test_what_the_files_say_is_held_to_the_same_rules(own: OwnGarden) -> None:
    """With its line; what may be so, since the database may know more, is a warning."""
    text = own.config.read_text(encoding="utf-8")
    work = '\n[[tree.work]]\nwork = "{}"\non = {}\n'
    own.config.write_text(
        text + work.format("unwire", "2026-06-30") + work.format("observe", "2026-06-30") + 'seen = "dormant"\n'
    )
    checked = own.document("config", "check")["warnings"]
    assert any("unwire of larch on 2026-06-30: no wire was set before." in warning for warning in checked)
    assert any("seen does not fit the season of Larix" in warning for warning in checked)

    own.config.write_text(text.replace('id = "elm"', 'id = "elm"\nsince = 2026-11-03', 1))
    words = own.refused("log", "pine", "water", code=2)
    assert "tree[elm].work[1] cannot be: elm came to the garden on 2026-11-03" in words
    assert "an earlier `since`" in words

    own.config.write_text(text + work.format("unwire", "2026-06-30") + work.format("unwire", "2026-06-30T09:00:00"))
    assert "tree[larch].work[3] is there twice" in own.refused("log", "pine", "water", code=2)
