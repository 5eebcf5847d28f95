"""The coming days ranked by what the work would cost on them: the frost on the third day, and who is hurt by it."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from carewatch.whatif.said import headline
from tests.outlook.gardens import Document, Garden, ran, tree, work
from tests.outlook.invented_weather import Day
from tests.whatif.asked import FROSTY, MILD, SATURDAY, answered, by_day, dates, garden, said

SEVER = ("maple", "sever-layer", "--roots", "sparse", "--tied", "--with", "move:shade")
SAT, SUN, MON, TUE, WED, THU = dates(SATURDAY, 6)


@pytest.fixture(scope="module")
def frost(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    """A mild week of early September with one clear cold night, from Sunday to Monday."""
    return garden(tmp_path_factory.mktemp("frost"), [MILD, MILD, FROSTY, MILD, MILD, MILD, MILD, MILD])


@pytest.fixture(scope="module")
def severed(frost: Garden) -> Document:
    return answered(frost, *SEVER)


def test_the_days_just_before_the_frost_are_the_worst_for_a_layer(severed: Document) -> None:
    """On Saturday and Sunday it would meet the frost on few roots; from Monday noon on nothing is foreseen."""
    order = [day["day"] for day in severed["days"]]

    assert severed["right"]
    assert set(order[-2:]) == {SAT, SUN}
    worst, rest = severed["days"][-2:], severed["days"][:-2]
    assert min(day["expected_loss"] for day in worst) > 2.0 * max(day["expected_loss"] for day in rest)


def test_the_reason_is_the_frost_with_its_hour_and_the_limit_that_it_passes(severed: Document) -> None:
    """Air falls to -4 °C at 5:00 UTC, 7:00 at the site; a mature maple leaf is hurt from -2.5 °C."""
    for day in (SAT, SUN):
        frost = next(spell for spell in by_day(severed)[day]["spells"] if spell["hazard"] == "frost")
        peak = datetime.fromisoformat(frost["peak_at"])

        assert "Its leaves reach" in by_day(severed)[day]["why"]
        assert "Mon 7 Sep" in by_day(severed)[day]["why"]
        assert abs((peak - datetime(2026, 9, 7, 5, tzinfo=UTC)).total_seconds()) <= 2 * 3600
        assert -7.0 < frost["peak"]["value"] < frost["limit"]["value"] == -2.5


def test_a_night_that_is_over_by_noon_does_not_count_against_its_day(severed: Document) -> None:
    """The frost of Monday's dawn hurts nothing that is severed at Monday's noon."""
    monday = by_day(severed)[MON]

    assert all(
        datetime.fromisoformat(spell["starts"]) >= datetime.fromisoformat(monday["at"]) for spell in monday["spells"]
    )
    assert "frost" not in {spell["hazard"] for spell in monday["spells"]}
    assert monday["expected_loss_without"] < 0.01 < by_day(severed)[SUN]["expected_loss_without"]


def test_without_a_frost_no_day_stands_out(tmp_path: Path) -> None:
    document = answered(garden(tmp_path, [MILD] * 8), *SEVER)
    losses = [day["expected_loss"] for day in document["days"]]

    assert max(losses) - min(losses) < 0.05
    assert "leaves reach" not in " ".join(day["why"] for day in document["days"])


def test_a_gale_is_named_as_wind(tmp_path: Path) -> None:
    """A sparse layer rocks in gusts from 3 m/s at the plant; the gale blows on Tuesday."""
    gale = Day(low_c=9, high_c=19, dew_c=9, cloud=70, wind_ms=11)
    document = answered(garden(tmp_path, [MILD, MILD, MILD, gale, MILD, MILD, MILD, MILD]), *SEVER[:4])
    sunday, wednesday = by_day(document)[SUN], by_day(document)[WED]

    assert sunday["by_hazard"]["wind"] > wednesday["by_hazard"]["wind"] + 0.1
    assert "Gusts" in sunday["why"]
    assert "Tue 8 Sep" in sunday["why"]


def test_a_work_that_changes_nothing_costs_nothing(frost: Garden) -> None:
    """Sealing a cut leaves the tree as it stands, to the last digit."""
    days = answered(frost, "maple", "seal")["days"]

    assert len(days) == 6
    assert [day["expected_loss"] for day in days] == [day["expected_loss_without"] for day in days]


def test_the_day_itself_must_suit_the_work(tmp_path: Path) -> None:
    """Paste is not put on while it rains, nor below 5 °C; such days come last, with that reason."""
    rainy = Day(low_c=9, high_c=14, dew_c=9, cloud=100, wind_ms=2, rain_mm=0.5)
    cold = Day(low_c=0, high_c=3, dew_c=0, cloud=100, wind_ms=2)
    days = answered(garden(tmp_path, [MILD, MILD, MILD, rainy, cold, MILD, MILD, MILD]), "maple", "seal")["days"]
    unfit = {day["day"]: day["unfit"] for day in days if day["verdict"] == "unfit"}

    assert set(unfit) == {MON, TUE, WED}
    assert "Rain" in unfit[MON]
    assert "Air at work about 1 °C" in unfit[WED]
    assert {day["day"] for day in days[-3:]} == set(unfit)


def test_the_same_question_gives_the_same_ranking(frost: Garden, severed: Document) -> None:
    """There is no chance in it."""
    again = ran("whatif", *SEVER, "--config", str(frost.config), "--at", frost.at.isoformat(), "--json").document()

    assert again == severed


@pytest.mark.parametrize("removed", ["0.2", "0.35", "0.6"])
def test_more_removed_is_never_safer(tmp_path_factory: pytest.TempPathFactory, removed: str) -> None:
    """On every day of a changeable April fortnight, cutting more of the roots costs at least as much."""
    april = datetime(2026, 4, 8, 7, tzinfo=UTC)
    dry = Day(low_c=5, high_c=21, dew_c=-2, cloud=10, wind_ms=7)
    cold = Day(low_c=-7, high_c=4, dew_c=-8, cloud=0, wind_ms=2)
    cool = Day(low_c=3, high_c=12, dew_c=3, cloud=60, wind_ms=3)
    where = garden(
        tmp_path_factory.mktemp("april"),
        [cool, cold, cool, dry, dry, cool, cold, cool],
        tree("maple", "lawn", work("observe", "2026-04-05", seen='"bud-swell"')),
        at=april,
        before=cool,
    )
    less = by_day(answered(where, "maple", "root-prune", "--removed", removed))
    more = by_day(answered(where, "maple", "root-prune", "--removed", str(float(removed) + 0.2)))

    assert less
    for day, judged in less.items():
        assert more[day]["expected_loss"] >= judged["expected_loss"] - 1e-6


def test_shade_after_the_work_is_simulated_and_not_assumed(frost: Garden, severed: Document) -> None:
    """On the open lawn the same layer would get several times the sun that it bears."""
    open_lawn = answered(frost, *SEVER[:4])

    for day, judged in by_day(open_lawn).items():
        assert judged["by_hazard"]["sun"] > by_day(severed)[day]["by_hazard"]["sun"] + 0.1
    assert any("full sun" in line for line in open_lawn["every_day"])
    assert severed["aftercare"] == ["move:shade"]


def test_what_no_choice_of_a_day_spares_is_said_once(frost: Garden) -> None:
    """Sunburn on every day is no reason against one of them: the frost still tells the days apart."""
    out = said(frost, *SEVER[:5])

    assert out.count("On every day: it would get") == 1
    assert out.count("Mon 7 Sep about 7:00") == 2


def test_a_window_that_closes_within_the_forecast_bars_the_days_after_it(tmp_path: Path) -> None:
    """Junipers' roots are cut until the end of May; 1 June and later are barred, with that reason."""
    late_may = datetime(2026, 5, 29, 7, tzinfo=UTC)
    where = garden(tmp_path, [MILD] * 8, tree("juniper", "bench", species="Juniperus"), at=late_may)
    document = answered(where, "juniper", "root-prune", "--removed", "0.3")
    barred = [day["day"] for day in document["days"] if day["verdict"] == "barred"]

    assert barred == ["2026-06-01", "2026-06-02", "2026-06-03"]
    assert all("April and May" in by_day(document)[day]["why"] for day in barred)
    assert [day["rank"] for day in document["days"]] == [1, 2, 3, None, None, None]


def test_root_pruning_a_maple_on_a_mild_20_october_is_refused_by_season(tmp_path: Path) -> None:
    """However kind the week: no day is judged, and the month that is right is named."""
    october = datetime(2026, 10, 20, 7, tzinfo=UTC)
    where = garden(tmp_path, [MILD] * 8, at=october)
    document = answered(where, "maple", "root-prune", "--removed", "0.3")
    out = " ".join(said(where, "maple", "root-prune", "--removed", "0.3").split())

    assert (document["right"], document["days"]) == (False, [])
    assert [barrier["kind"] for barrier in document["barriers"]] == ["season"]
    assert document["opens"][:4] == "2027"
    assert "March 2027" in out or "April 2027" in out


def test_what_the_log_holds_bars_a_work(tmp_path: Path) -> None:
    """Stripping a tree whose roots were cut in spring is refused, whatever the weather of June."""
    june = datetime(2026, 6, 22, 7, tzinfo=UTC)
    pruned = tree("maple", "lawn", work("root-prune", "2026-04-05", removed="0.3"))
    document = answered(garden(tmp_path, [MILD] * 8, pruned, at=june), "maple", "defoliate", "--removed", "1")

    assert [barrier["kind"] for barrier in document["barriers"]] == ["stacking"]
    assert "5 April 2026" in document["barriers"][0]["why"]
    assert document["opens"][:4] == "2027"


def test_a_work_is_not_blamed_for_what_comes_without_it() -> None:
    """Tying down before a killing night: the loss is that of the night, and the headline says so."""
    now = datetime(2026, 1, 2, 12, tzinfo=UTC)
    days = [(now + timedelta(days=1), 0.85)]

    anyway = headline("tying down", days, 4, now, without=0.85)
    helps = headline("tying down", days, 4, now, without=0.95)
    harms = headline("root-pruning", days, 4, now, without=0.2)
    unknown = headline("severing", days, 4, now)

    assert anyway.startswith(
        "85 % of the tree is expected to be lost over 4 weeks with tying down, and 85 % without it"
    )
    assert "and 95 % without it: see to what threatens it first (carewatch outlook)." in helps
    assert harms.startswith("No coming day is kind to root-pruning")
    assert unknown.startswith("No coming day is kind to severing")
