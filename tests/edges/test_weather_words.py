"""What a forecast lacks is told to a grower by what it does to the answer; `explain` and --json keep every remark."""

import ast
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

import carewatch
from carewatch.cli import weather_words
from carewatch.cli.documents import ForecastDocument
from carewatch.cli.paragraphs import hanging
from carewatch.cli.screen import console
from carewatch.cli.weather_words import gaps_of
from tests.edges.own_garden import own_garden
from tests.outlook.gardens import ran
from tests.outlook.test_recorded_forecasts import looked_at

WHOLE = ForecastDocument(
    source="recorded",
    issued_at="2025-12-28T12:00-05:00",
    age_hours=0.0,
    members=21,
    members_from="dressed",
    hours=168,
    missing=(),
    estimated=(),
    notes=(),
    assumed=(),
    hours_judged={"frost": 168, "wind": 168, "soak": 168},
)
# Words of whoever wrote the program, none of which a grower needs.
CLEAR = "a clear sky is assumed, so nights may come out too cold and days too sunny."
JARGON = re.compile(
    r"_wm2|_mm\b|_c\b|single run|dressed|precipitation less|Not in this answer|Hours without a value|FAO"
)


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "46")


def test_a_whole_forecast_asks_for_no_word() -> None:
    gaps = gaps_of(WHOLE)

    assert (gaps.lacks, gaps.unjudged, gaps.more) == ((), (), False)


@pytest.mark.parametrize(
    ("note", "said"),
    [
        ("Rain is precipitation less the water of snowfall in 912 hours.", ()),
        ("Not in this answer: dew point, pressure.", ()),
        ("Hours without a value, of 336: cloud cover 24.", ()),
        ("Ensemble gfs: Not in this answer: dew point.", ()),
        ("Rain is all precipitation in 12 hours.", ("The forecast does not tell snow from rain: both count as rain.",)),
        (
            "Not given per member and taken from the single run: cloud, pressure_kpa, wind_10m_ms.",
            ("Of clouds and wind there is one course: chances do not count its doubt.",),
        ),
        ("Not given per member and taken from the single run: pressure_kpa, soil_temp_c.", ()),
        (
            "The ensemble icon was not used: it holds fewer than two members. The single run stands alone.",
            ("Chances rest on one forecast and the usual errors of forecasts (it holds fewer than two members).",),
        ),
        ("The forecast is for a point 45 km from the site.", ("The forecast is for a point 45 km from the site.",)),
        (
            "3 values of air temperature are impossible and were left out.",
            ("3 values of air temperature are impossible and were left out.",),
        ),
    ],
)
def test_a_remark_is_told_by_what_it_means_for_trees(note: str, said: tuple[str, ...]) -> None:
    gaps = gaps_of(replace(WHOLE, notes=(note,)))

    assert gaps.lacks == said
    assert gaps.more is (said != (note,))


def test_what_is_not_known_here_is_told_as_it_is() -> None:
    """A new remark, a new variable: rather in odd words than not at all."""
    gaps = gaps_of(
        replace(WHOLE, notes=("The sky is green.",), missing=("hail_mm: none",), estimated=("uv: from sun",))
    )

    assert gaps.lacks == ("hail_mm: none", "uv: from sun", "The sky is green.")


def test_what_is_missing_is_told_with_its_hours_and_its_effect() -> None:
    missing = ("cloud in 24 of 336 hours: a clear sky is assumed", "wind_10m_ms: nearly calm air is assumed")
    estimated = (
        "gust_10m_ms in 2 of 336 hours: 1.6 times the mean wind",
        "pressure_kpa: from elevation (FAO-56 eq. 7)",
    )

    gaps = gaps_of(replace(WHOLE, missing=missing, estimated=estimated, hours_judged={"frost": 168, "wind": 0}))

    assert gaps.lacks == (
        f"Nothing is told of clouds in 24 of 336 hours: {CLEAR}",
        "Nothing is told of wind: nearly calm air is assumed, so what wind dries, rocks or breaks is not seen.",
        "Gusts are reckoned from the mean wind; real ones may be stronger.",
    )
    assert gaps.unjudged == (
        "Not judged, as the forecast does not tell what it takes: wind. They may come all the same.",
    )


def test_what_is_known_for_a_while_only_is_told_with_its_hours() -> None:
    gaps = gaps_of(replace(WHOLE, hours_judged={"frost": 168, "wind": 30, "soak": 30}))

    assert gaps.unjudged == ("Judged for the first 30 hours only, as the forecast tells no more: wind and wet roots.",)


def test_every_remark_that_is_put_in_other_words_is_still_made_somewhere() -> None:
    """The longest plain part of each pattern stands in a text of the modules that read and complete forecasts."""
    folder = Path(carewatch.__file__).parent
    modules = [*(folder / "weather_api").glob("*.py"), *(folder / "forecast").glob("*.py")]
    texts = " ".join(
        node.value
        for module in modules
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
    patterns = [weather_words._SHARED.pattern, *(pattern.pattern for pattern, _ in weather_words._REMARKS)]
    assert len(patterns) > 15
    for pattern in patterns:
        for part in pattern.split("|"):
            plain = max(
                re.findall(r"[A-Za-z ,:;]+", re.sub(r"\\[A-Za-z]\+?|\(\?:|\.\*\??", "|", part)), key=len
            ).strip()
            words = re.sub(r"^Rain is ", "", plain)
            assert words in texts, part


@pytest.mark.parametrize(
    ("file", "at"),
    [
        ("new-jersey-2025-12-28.json", "2025-12-28T12:00+00:00"),
        ("brasilia.json", "2023-10-25T12:00+00:00"),
        ("melbourne.json", "2025-10-25T12:00+00:00"),
    ],
)
def test_the_outlook_speaks_to_a_grower_and_its_document_to_whoever_asks(tmp_path: Path, file: str, at: str) -> None:
    said = looked_at(tmp_path, f"forecasts/{file}", datetime.fromisoformat(at)).out
    document = looked_at(tmp_path, f"forecasts/{file}", datetime.fromisoformat(at), "--json").document()["forecast"]

    assert JARGON.search(said) is None
    assert max(map(len, said.splitlines())) <= 46
    assert "How the forecast was read: carewatch explain" in said
    assert JARGON.search(" ".join([*document["missing"], *document["estimated"], *document["notes"]]))


def test_the_assumed_past_is_told_by_what_it_does(tmp_path: Path) -> None:
    said = " ".join(own_garden(tmp_path).ran("outlook").out.split())

    assert "is told less surely" in said
    assert "season's mean temperatures" not in said


def test_a_paragraph_hangs_and_breaks_neither_ids_nor_units(capsys: pytest.CaptureFixture[str]) -> None:
    hanging(console(), "wind today 15:00: 11 m/s; almost certain (99 %), says maple-layer-1 of it", 2, "wind")

    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("  wind")
    assert all(line.startswith("    ") for line in lines[1:])
    assert all(len(line) <= 46 for line in lines)
    assert any("maple-layer-1" in line for line in lines)
    assert any("99\u00a0%" in line for line in lines)


def test_the_demo_fits_a_phone() -> None:
    done = ran("demo")

    assert done.code == 0
    assert max(len(line.rstrip()) for line in done.out.splitlines()) <= 46
    assert "-> heavy fleece by today" in done.out
    assert "move:" not in done.out
