"""A good configuration becomes the frozen garden: file, garden file, environment and tables put together."""

import subprocess
import sys
from collections.abc import Mapping
from dataclasses import FrozenInstanceError, replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

import pytest
from pydantic import BaseModel

import carewatch
from carewatch.config.load import Loaded, find_config, load, platform_folder
from carewatch.config.problems import ConfigErrors
from carewatch.config.settings import Settings
from carewatch.config.starter import starter_text
from carewatch.config.tables import load_tables
from tests.edges.test_config_problems import GOOD, NOW

EXAMPLE = Path(carewatch.__file__).parents[1] / "config.example.toml"
BERLIN = ZoneInfo("Europe/Berlin")


def loaded(folder: Path, text: str, environ: Mapping[str, str] | None = None, garden: str | None = None) -> Loaded:
    """The configuration of this text, with a garden file beside it if one is given."""
    file = folder / "config.toml"
    file.write_text(text, encoding="utf-8")
    file.chmod(0o600)
    if garden is not None:
        (folder / "garden.toml").write_text(garden, encoding="utf-8")
    return load(file, environ or {}, NOW, load_tables())


def test_the_example_loads_without_a_warning_but_for_the_secrets_that_only_its_owner_has() -> None:
    example = load(EXAMPLE, {}, NOW, load_tables())
    owners = load(EXAMPLE, {"PHONE_URL": "json://phone"}, NOW, load_tables())

    assert [warning.partition(":")[0] for warning in example.warnings] == (
        ["notices.channel[phone].url", "notices.channel[mail].url"]
    )
    assert [warning.partition(":")[0] for warning in owners.warnings] == ["notices.channel[mail].url"]
    assert [tree.id for tree in example.garden.trees] == ["layered-maple", "hornbeam"]
    assert [entry.work for entry in example.garden.log] == (
        ["sever-layer", "move", "root-prune", "observe", "begin", "wire", "sacrifice"]
    )


def test_the_example_shows_every_key_and_says_that_its_garden_is_invented() -> None:
    """Each key stands at the start of a line or in an inline table, commented out where it is not wanted."""
    text = EXAMPLE.read_text(encoding="utf-8")
    heads = {part.split("=")[0].strip("# {") for line in text.splitlines() for part in line.split(",") if "=" in part}

    def keys(model: type[BaseModel]) -> set[str]:
        found: set[str] = set()
        for name, field in model.model_fields.items():
            below = [part for part in (field.annotation, *get_args(field.annotation)) if isinstance(part, type)]
            models = [part for part in below if issubclass(part, BaseModel)]
            found |= {name} if not models else set().union(*(keys(part) for part in models))
        return found

    missing = {key for key in keys(Settings) - heads if f"{key} = " not in text}
    assert missing == set()
    assert "INVENTED" in text


def test_the_starter_loads_and_says_that_its_coordinates_are_nobodys(tmp_path: Path) -> None:
    first = loaded(tmp_path, starter_text())
    filled = loaded(tmp_path, starter_text(38.7223, -9.1393, "Europe/Lisbon"))

    assert any("those of the example" in warning for warning in first.warnings)
    assert not any("those of the example" in warning for warning in filled.warnings)
    assert (filled.garden.site.latitude, filled.garden.site.longitude) == (38.7223, -9.1393)
    assert filled.garden.site.time_zone == "Europe/Lisbon"


@pytest.mark.parametrize("text", [starter_text(), EXAMPLE.read_text(encoding="utf-8")])
def test_where_a_heater_is_mentioned_qualified_people_and_local_codes_are_too(text: str) -> None:
    heater = text[text.index("eater") :][:400]

    assert "qualified" in heater
    assert "local electrical code" in heater


def test_what_is_left_out_has_the_defaults_that_the_example_names(tmp_path: Path) -> None:
    garden = loaded(tmp_path, GOOD).garden
    (tree,) = garden.trees

    assert (garden.site.name, garden.site.surroundings) == ("garden", "suburban")
    assert (garden.notices.quiet_from, garden.notices.quiet_to) == (time(22), time(6, 30))
    assert garden.notices.caution == 0.5
    assert (tree.worth, tree.fixed, tree.height_cm, tree.crown_cm, tree.watering) == (1, False, 40, 30, "daily")
    assert (tree.substrate.name, tree.pot.material, tree.pot.colour) == ("loam-mix", "plastic", "black")
    assert garden.log == ()


def test_a_place_has_what_its_kind_has_but_for_what_the_file_says(tmp_path: Path) -> None:
    text = (
        GOOD + '[[place]]\nid = "corner"\nkind = "wall"\nsky_view = 0.25\nhorizon = [[200, 30], [100, 10]]\nroom = 3\n'
    )
    kinds = load_tables().place_kinds

    places = loaded(tmp_path, text).garden.places

    assert places["bench"] == replace(kinds["bench"], id="bench")
    expected = replace(kinds["wall"], id="corner", sky_view=0.25, horizon=((100.0, 10.0), (200.0, 30.0)), room=3)
    assert places["corner"] == expected


def test_of_a_tree_s_shade_the_same_share_falls_with_the_leaves(tmp_path: Path) -> None:
    """A place that says how much sky it has in leaf need not say it again for winter; if it does, that counts."""
    text = GOOD + "".join(
        f'[[place]]\nid = "{name}"\nkind = "under-tree"\n{keys}\n'
        for name, keys in (
            ("usual", ""),
            ("open", "sky_view = 0.65"),
            ("told", "sky_view = 0.65\nsky_view_leafless = 0.9"),
        )
    )
    kind = load_tables().place_kinds["under-tree"]
    places = loaded(tmp_path, text).garden.places
    bare = kind.sky_view_leafless
    assert bare is not None
    assert places["usual"].sky_view_leafless == bare
    hidden = (1.0 - bare) / (1.0 - kind.sky_view)
    assert places["open"].sky_view_leafless == pytest.approx(1.0 - 0.35 * hidden)
    assert places["told"].sky_view_leafless == 0.9


def test_a_pot_is_its_measures_or_as_long_and_wide_as_deep(tmp_path: Path) -> None:
    """A box of 30 x 20 x 10 cm holds 6 litres; 8 litres are a cube of 20 cm (arithmetic)."""
    text = GOOD.replace("volume_l = 5", "length_cm = 30, width_cm = 20, depth_cm = 10") + (
        '[[tree]]\nid = "elm"\nspecies = "Ulmus"\nplace = "bench"\npot = { volume_l = 8, material = "terracotta" }\n'
    )

    box, cube = (tree.pot for tree in loaded(tmp_path, text).garden.trees)

    assert box.volume_l == pytest.approx(6)
    assert (cube.length_cm, cube.width_cm, cube.depth_cm) == pytest.approx((20, 20, 20))
    assert (cube.material, cube.colour) == ("terracotta", "terracotta")
    assert cube.wall_mm == load_tables().pot_materials["terracotta"].wall_mm
    assert cube.absorptance == load_tables().pot_colours["terracotta"]


def test_a_work_is_dated_by_the_clock_of_the_site(tmp_path: Path) -> None:
    """A bare date is noon there, a time without an offset is local time, an offset is kept."""
    text = GOOD + "".join(
        f'[[tree.work]]\nwork = "{work}"\non = {on}\n'
        for work, on in [
            ("wire", "2026-03-01"),
            ("seal", "2026-07-01T18:30:00"),
            ("unwire", "2026-08-01T10:00:00+00:00"),
            ("untie", '"2026-08-02"'),
        ]
    )

    log = loaded(tmp_path, text).garden.log

    assert [entry.at for entry in log] == [
        datetime(2026, 3, 1, 12, tzinfo=BERLIN),
        datetime(2026, 7, 1, 18, 30, tzinfo=BERLIN),
        datetime(2026, 8, 1, 10, tzinfo=UTC),
        datetime(2026, 8, 2, 12, tzinfo=BERLIN),
    ]
    assert all(entry.at.utcoffset() is not None for entry in log)
    assert log[0].origin == f"config.toml line {GOOD.count(chr(10)) + 1}"


def test_the_work_of_today_can_be_written_down_in_the_morning(tmp_path: Path) -> None:
    file = tmp_path / "config.toml"
    file.write_text(GOOD + '[[tree.work]]\nwork = "wire"\non = 2026-11-25\n')

    garden = load(file, {}, datetime(2026, 11, 25, 7, tzinfo=UTC), load_tables()).garden

    assert [entry.at for entry in garden.log] == [datetime(2026, 11, 25, 12, tzinfo=BERLIN)]


def test_every_option_of_a_work_reaches_the_log(tmp_path: Path) -> None:
    text = GOOD + (
        '[[tree.work]]\nwork = "sever-layer"\non = 2026-05-01\nroots = "dense"\nroots_worked = true\ntied = true\n'
        'paste = true\nnote = "n"\n[[tree.work]]\nwork = "defoliate"\non = 2026-06-01\nremoved = 1.0\n'
        '[[tree.work]]\nwork = "move"\non = 2026-06-02\nto = "bench"\n'
        '[[tree.work]]\nwork = "observe"\non = 2026-06-03\nseen = "wilting"\n'
        '[[tree.work]]\nwork = "begin"\non = 2026-06-04\nmeasure = "move:bench"\n'
    )

    layer, leaves, move, seen, begin = loaded(tmp_path, text).garden.log

    assert (layer.roots, layer.roots_worked, layer.tied, layer.paste, layer.note) == ("dense", True, True, True, "n")
    assert (leaves.removed, move.to, seen.seen, begin.measure) == (1.0, "bench", "wilting", "move:bench")


def test_places_and_trees_of_the_garden_file_are_added(tmp_path: Path) -> None:
    garden_file = (
        '[[place]]\nid = "shed"\nkind = "shed"\n'
        '[[tree]]\nid = "elm"\nspecies = "Ulmus"\nplace = "shed"\n[[tree.work]]\nwork = "wire"\non = 2026-03-01\n'
    )

    result = loaded(tmp_path, GOOD.replace('place = "bench"', 'place = "shed"'), garden=garden_file)

    assert set(result.garden.places) == {"bench", "shed"}
    assert [(tree.id, tree.place) for tree in result.garden.trees] == [("maple", "shed"), ("elm", "shed")]
    assert [entry.origin for entry in result.garden.log] == ["garden.toml line 8"]
    assert result.garden_file == tmp_path / "garden.toml"


def test_the_garden_may_stand_in_the_garden_file_alone(tmp_path: Path) -> None:
    site, _, rest = GOOD.partition("[[place]]")

    assert loaded(tmp_path, site, garden="[[place]]" + rest).garden == loaded(tmp_path, GOOD, garden="").garden


def test_paths_start_at_the_folder_of_the_configuration(tmp_path: Path) -> None:
    (tmp_path / "forecast.json").write_text("{}")
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "trees.toml").write_text('[[place]]\nid = "shed"\nkind = "shed"\n')
    text = GOOD + (
        '[weather]\nsource = "recorded"\nfile = "forecast.json"\n'
        '[storage]\npath = "sub/what-happened.sqlite"\ngarden = "sub/trees.toml"\n'
    )

    result = loaded(tmp_path, text)

    assert result.weather_file == tmp_path / "forecast.json"
    assert result.database_file == tmp_path / "sub" / "what-happened.sqlite"
    assert result.garden_file == tmp_path / "sub" / "trees.toml"
    assert "shed" in result.garden.places
    assert result.settings.weather.fallback == "none"


def test_the_environment_stands_over_the_file(tmp_path: Path) -> None:
    environ = {
        "CAREWATCH_SITE__LATITUDE": "38.7",
        "CAREWATCH_SITE__LONGITUDE": "-9.1",
        "CAREWATCH_SITE__TIME_ZONE": "Europe/Lisbon",
        "CAREWATCH_NOTICES__UNLIT_GARDEN": "false",
        "CAREWATCH_NOTICES__AWAY": '[["2026-12-24", "2026-12-27"]]',
        "CAREWATCH_NOTICES__CHANNEL": '[{"name": "phone", "url": "env:PHONE"}]',
        "CAREWATCH_STOCK__TENTS": "4",
        "carewatch_page__base_path": "/trees",
        "PATH": "/bin",
    }

    result = loaded(tmp_path, GOOD, environ)

    assert (result.garden.site.latitude, result.garden.site.longitude) == (38.7, -9.1)
    assert result.garden.site.time_zone == "Europe/Lisbon"
    assert result.garden.site.elevation_m == 35
    assert result.garden.notices.unlit_garden is False
    assert result.garden.notices.away == ((date(2026, 12, 24), date(2026, 12, 27)),)
    assert [channel.name for channel in result.settings.notices.channel] == ["phone"]
    assert result.garden.stock.tents == 4
    assert result.settings.page.base_path == "/trees"


def test_a_site_can_come_from_the_environment_alone(tmp_path: Path) -> None:
    environ = {
        "CAREWATCH_SITE__LATITUDE": "38.7",
        "CAREWATCH_SITE__LONGITUDE": "-9.1",
        "CAREWATCH_SITE__TIME_ZONE": "Europe/Lisbon",
    }

    assert loaded(tmp_path, "", environ).garden.site.latitude == 38.7


def test_an_empty_variable_counts_as_not_set(tmp_path: Path) -> None:
    assert loaded(tmp_path, GOOD, {"CAREWATCH_SITE__LATITUDE": ""}).garden.site.latitude == 52.4


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("CAREWATCH_SITE__LATITUD", "CAREWATCH_SITE__LATITUDE"),
        ("CAREWATCH_SITE_LATITUDE", "CAREWATCH_SITE__LATITUDE"),
        ("CAREWATCH_NOTICE__CAUTION", "CAREWATCH_NOTICES__CAUTION"),
    ],
)
def test_a_misspelt_variable_is_refused_with_the_name_that_was_meant(tmp_path: Path, name: str, meant: str) -> None:
    with pytest.raises(ConfigErrors) as caught:
        loaded(tmp_path, GOOD, {name: "38.7"})

    (problem,) = caught.value.problems
    assert problem.file == f"environment variable {name}"
    assert problem.nearest[0] == meant


def test_a_list_in_the_environment_that_is_no_json_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ConfigErrors, match=r"CAREWATCH_PAGE__TRUSTED_HOSTS: page\.trusted_hosts is no JSON"):
        loaded(tmp_path, GOOD, {"CAREWATCH_PAGE__TRUSTED_HOSTS": "a,b"})


def test_variables_of_others_are_a_warning_and_the_reserved_ones_nothing(tmp_path: Path) -> None:
    """Container platforms make up variables such as NAME_PORT from the name of a service."""
    quiet = loaded(tmp_path, GOOD)
    environ = {
        "CAREWATCH_PORT": "tcp://10.0.0.7:8737",
        "CAREWATCH_CONFIG": "x",
        "CAREWATCH_CLOCK": "file:x",
        "CAREWATCH_FAULT_SEND": "1",
    }

    said = set(loaded(tmp_path, GOOD, environ).warnings) - set(quiet.warnings)

    assert said == {"environment variable CAREWATCH_PORT has no meaning to carewatch and is ignored"}


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "words"),
    [
        (13.4, 52.5, "Europe/Berlin", "swapped"),
        (-3.7, 40.4, "Europe/Madrid", "swapped"),
        (40.7, 74.0, "America/New_York", "longitude looks as if its sign"),
        (33.9, 151.2, "Australia/Sydney", "latitude looks as if its sign"),
    ],
)
def test_coordinates_that_do_not_fit_the_time_zone_are_a_warning(
    tmp_path: Path, latitude: float, longitude: float, zone: str, words: str
) -> None:
    """Berlin, Madrid, New York and Sydney with a usual slip (coordinates from memory, to a tenth of a degree)."""
    text = GOOD.replace("52.4", str(latitude)).replace("13.1", str(longitude)).replace("Europe/Berlin", zone)

    assert any(words in warning for warning in loaded(tmp_path, text).warnings)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (52.5, 13.4, "Europe/Berlin"),
        (42.9, -8.5, "Europe/Madrid"),
        (39.5, 76.0, "Asia/Shanghai"),
        (27.7, -8.1, "Africa/Algiers"),
        (61.2, -149.9, "America/Anchorage"),
        (10.0, 10.0, "UTC"),
    ],
)
def test_coordinates_at_the_edge_of_a_wide_time_zone_are_no_warning(
    tmp_path: Path, latitude: float, longitude: float, zone: str
) -> None:
    """Galicia, Kashgar and Tindouf lie far from the towns of their zones (coordinates from memory)."""
    text = GOOD.replace("52.4", str(latitude)).replace("13.1", str(longitude)).replace("Europe/Berlin", zone)

    assert not any("swapped" in warning or "sign" in warning for warning in loaded(tmp_path, text).warnings)


def test_what_is_probably_not_meant_is_a_warning(tmp_path: Path) -> None:
    text = (
        GOOD.replace("elevation_m = 35\n", "").replace("pot = { volume_l = 5 }\n", "")
        + '[[place]]\nid = "frame"\nkind = "cold-frame"\nroom = 0\n[page]\nlisten = "0.0.0.0:8737"\n'
    ).replace('place = "bench"', 'place = "frame"')

    said = "\n".join(loaded(tmp_path, text).warnings)

    for words in (
        "site.elevation_m is not given",
        "weather.contact is empty",
        "no [[notices.channel]]",
        "[stock] is not given",
        "tree[maple].pot is not given",
        "place[frame].room is 0, and 1 trees live there",
        "page.listen is open to the network",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("quiet_from", "quiet_to", "hours"), [("06:31", "06:30", "0.0"), ("06:30", "22:00", "8.5"), ("21:00", "07:00", "")]
)
def test_quiet_hours_that_leave_hardly_any_waking_ones_are_a_warning(
    tmp_path: Path, quiet_from: str, quiet_to: str, hours: str
) -> None:
    """Most often they are swapped; nothing that is not severe would then be told by day."""
    said = loaded(tmp_path, GOOD + f'[notices]\nquiet_from = "{quiet_from}"\nquiet_to = "{quiet_to}"\n').warnings
    told = [warning for warning in said if "the other way round" in warning]
    assert bool(told) == bool(hours)
    assert all(f"leave only {hours} hours" in warning for warning in told)


def test_a_byte_order_mark_and_dos_line_ends_do_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "config.toml"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())

    assert load(file, {}, NOW, load_tables()).garden == loaded(tmp_path, GOOD).garden


def test_a_missing_version_is_the_first(tmp_path: Path) -> None:
    assert loaded(tmp_path, GOOD.replace("config_version = 1\n", "")).settings.config_version == 1


def test_what_was_loaded_cannot_be_changed(tmp_path: Path) -> None:
    result = loaded(tmp_path, GOOD)

    with pytest.raises(FrozenInstanceError):
        result.warnings = ()  # type: ignore[misc]  # the refusal at run time is what is tested
    with pytest.raises(ValueError, match="frozen"):
        result.settings.site.latitude = 1.0  # type: ignore[misc]  # as above


def test_the_named_file_is_taken_before_the_variable_the_folder_and_the_platforms_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    own = tmp_path / "xdg" / "carewatch" / "config.toml"
    own.parent.mkdir(parents=True)
    own.write_text(GOOD)
    environ = {"XDG_CONFIG_HOME": str(tmp_path / "xdg"), "HOME": str(tmp_path)}

    assert find_config(None, environ) == own
    (tmp_path / "config.toml").write_text(GOOD)
    assert find_config(None, environ) == Path("config.toml")
    assert find_config(None, environ | {"CAREWATCH_CONFIG": "/etc/trees.toml"}) == Path("/etc/trees.toml")
    assert find_config("mine.toml", environ | {"CAREWATCH_CONFIG": "/etc/trees.toml"}) == Path("mine.toml")


def test_each_platform_has_its_own_folder() -> None:
    """XDG base directory specification; Apple's and Microsoft's application data folders."""
    home = {"HOME": "/home/g"}

    assert platform_folder(home, "linux") == Path("/home/g/.config/carewatch")
    assert platform_folder(home, "darwin") == Path("/home/g/Library/Application Support/carewatch")
    assert platform_folder(home | {"APPDATA": "/r"}, "win32") == Path("/r/carewatch")


def test_reading_the_settings_loads_no_heavy_library() -> None:
    program = (
        "import sys, carewatch.config.load, carewatch.config.starter\n"
        "print(sorted({'numpy', 'pandas', 'pvlib', 'scipy', 'matplotlib', 'apprise'} & set(sys.modules)))"
    )

    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"
