"""The picture of a recovery: well-formed, told apart without colour, with caps and a legend."""

from datetime import date
from xml.etree import ElementTree as ET

import pytest

from carewatch.charts.recovery_svg import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, recovery_svg
from tests.condition.grown import severed, year_like
from tests.tasks.clocks import YEARS, prospect_of

SVG = "{http://www.w3.org/2000/svg}"
LAYER = [severed("2025-09-15", tied=True)]
MILD = year_like("2023-09-01", "2028-12-31", latitude=38.7, mean_c=17.0, half_range_c=6.0)


@pytest.fixture(scope="module")
def picture() -> ET.Element:
    """The layer seen in its first spring."""
    return ET.fromstring(recovery_svg(prospect_of(LAYER, YEARS, today=date(2026, 3, 1))))  # noqa: S314 - our own text


def texts(picture: ET.Element) -> list[str]:
    """Everything that is written on a picture."""
    return [element.text or "" for element in picture.iter(f"{SVG}text")]


def test_each_line_has_dashes_and_marks_of_its_own(picture: ET.Element) -> None:
    """Colour alone tells nothing to one man in twelve."""
    lines = list(picture.iter(f"{SVG}polyline"))

    assert len({line.get("stroke-dasharray") for line in lines}) == len(lines) == 3
    assert [line.findtext(f"{SVG}title") for line in lines] == ["root supply", "hold", "young roots"]
    assert list(picture.iter(f"{SVG}circle"))
    assert list(picture.iter(f"{SVG}path"))


def test_it_names_the_tree_today_and_what_is_enough(picture: ET.Element) -> None:
    said = texts(picture)

    assert any("maple, Acer palmatum" in text for text in said)
    assert {"today", "root supply", "hold", "young roots", "0 %", "100 %", "2026"} <= set(said)
    assert any("ties stay below 90 %" in text for text in said)
    assert "Recovery of maple" in (picture.findtext(f"{SVG}title") or "")
    assert "% on" in (picture.findtext(f"{SVG}desc") or "")


def test_every_point_lies_on_the_picture_and_rises_from_left_to_right(picture: ET.Element) -> None:
    for line in picture.iter(f"{SVG}polyline"):
        points = [tuple(map(float, pair.split(","))) for pair in str(line.get("points")).split()]
        assert [x for x, _ in points] == sorted(x for x, _ in points)
        assert all(LEFT <= x <= WIDTH - RIGHT and TOP <= y <= HEIGHT - BOTTOM for x, y in points)


def test_caps_of_the_calendar_are_marked_where_they_hold() -> None:
    """In a mild climate all three; in the north of this invented year none."""
    mild = ET.fromstring(recovery_svg(prospect_of(LAYER, MILD, 38.7, date(2026, 3, 1))))  # noqa: S314 - as above
    caps = [text for text in texts(mild) if text.startswith("calendar")]

    assert {"calendar: 35 %", "calendar: 60 %", "calendar: 85 %"} == set(caps)
    assert len([box for box in mild.iter(f"{SVG}rect") if box.get("class") == "cap"]) == len(caps)


def test_a_tree_without_works_has_a_flat_picture() -> None:
    picture = ET.fromstring(recovery_svg(prospect_of([], YEARS, today=date(2026, 3, 1))))  # noqa: S314 - as above

    assert len(list(picture.iter(f"{SVG}polyline"))) == 3
