"""The picture of a message, looked at as a phone shows it: large letters, nothing in the way, no colour needed."""

import io
import itertools
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from PIL import Image

from carewatch.alerts.call import TreeCall
from carewatch.alerts.picture import Picture, picture_of
from carewatch.alerts.picture_words import MOST_LIKELY
from carewatch.charts.forecast_png import DPI, PANEL_PX, WIDTH_PX, figure_of, forecast_png, own_style
from carewatch.sqlite.pictures import LARGEST
from tests.alerts.test_picture import BERLIN, FROST, HOUR, LAYER, MAPLE, NOW, course_of

# Points across a common phone.
PHONE_WIDTH = 390
# What a phone's own small print has (common practice). [pt]
LEAST_LETTERS = 11.0

LONG_NAME = replace(LAYER, tree="japanese-white-pine-in-the-far-corner-40")
TOO_LATE = replace(LAYER, act_by=NOW, undo_at=None)
NEXT_WEEK = replace(
    LAYER,
    spells=(replace(FROST, ends=NOW + 200 * HOUR, peak_at=NOW + 80 * HOUR),),
    act_by=NOW + 30 * HOUR,
    undo_at=NOW + 90 * HOUR,
)
HOT = replace(
    LAYER,
    spells=(replace(FROST, hazard="heat", peak=47.3, limit=42.0, peak_at=datetime(2026, 11, 6, 15, tzinfo=BERLIN)),),
    undo_at=datetime(2026, 11, 6, 20, tzinfo=BERLIN),
)


def of_hazard(hazard: str, unit: str, peak: float, limit: float) -> TreeCall:
    return replace(LAYER, spells=(replace(FROST, hazard=hazard, unit=unit, peak=peak, limit=limit),))


ALL: dict[str, tuple[TreeCall, ...]] = {
    "one": (LAYER,),
    "two": (LAYER, MAPLE),
    "long name": (LONG_NAME,),
    "too late": (TOO_LATE,),
    "next week": (NEXT_WEEK,),
    "hot": (HOT,),
    "sun": (of_hazard("sun", "kWh/m²·d", 7.0, 2.0),),
    "wind": (of_hazard("wind", "m/s", 22.0, 16.0),),
    "soak": (of_hazard("soak", "h", 90.0, 48.0),),
    "chill": (of_hazard("chill", "°C·h", 180.0, 120.0),),
    "heave": (of_hazard("heave", "freezes", 3.0, 0.6),),
    "bark-scald": (of_hazard("bark-scald", "°C", 52.0, 47.0),),
    "root-heat": (of_hazard("root-heat", "°C", 47.0, 41.0),),
    "root-freeze": (of_hazard("root-freeze", "°C", -7.0, -5.0),),
}


def picture(calls: tuple[TreeCall, ...]) -> Picture:
    made = picture_of([call.tree for call in calls], calls, [course_of(call) for call in calls], NOW)
    assert made is not None
    return made


def texts(axes: Axes) -> list[Text]:
    """What is written and can be seen; the axis keeps names of marks that lie outside."""
    bottom, top = axes.get_ylim()
    marks = [label for label, at in zip(axes.get_yticklabels(), axes.get_yticks(), strict=True) if bottom <= at <= top]
    return [text for text in (*axes.texts, *axes.get_xticklabels(), *marks) if text.get_text()]


class Words(NamedTuple):
    """What is written, the size of its letters, and the room that it takes. [pt], [px]"""

    text: str
    points: float
    box: Bbox


@cache
def placed(shown: Picture) -> tuple[tuple[Words, ...], ...]:
    """Per panel, every text in its place."""
    with own_style():
        figure = figure_of(shown)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        return tuple(
            tuple(
                Words(text.get_text(), float(text.get_fontsize()), text.get_window_extent(renderer))
                for text in texts(axes)
            )
            for axes in figure.axes
        )


@pytest.mark.parametrize("name", ALL)
def test_it_is_a_small_png_that_is_the_same_every_time(name: str) -> None:
    shown = picture(ALL[name])
    png = forecast_png(shown)
    opened = Image.open(io.BytesIO(png))

    assert opened.size == (WIDTH_PX, PANEL_PX * len(shown.panels))
    assert len(png) <= LARGEST / 2
    assert opened.info["Description"] == shown.caption
    assert forecast_png(shown) == png


@pytest.mark.parametrize("name", ALL)
def test_no_words_cover_others_or_leave_the_picture(name: str) -> None:
    shown = picture(ALL[name])
    for panel in placed(shown):
        for text, _, box in panel:
            inside = box.x0 >= 0 and box.x1 <= WIDTH_PX and box.y0 >= 0 and box.y1 <= PANEL_PX * len(shown.panels)
            assert inside, text
        for one, other in itertools.combinations(panel, 2):
            assert not one.box.overlaps(other.box), (one.text, other.text)


@pytest.mark.parametrize("name", ALL)
def test_the_key_stands_clear_of_what_the_numbers_are(name: str) -> None:
    shown = picture(ALL[name])
    for panel, words in zip(shown.panels, placed(shown), strict=True):
        by_text = {text: box for text, _, box in words}
        # Its line begins before its words, by the line's length and a gap.
        begins = by_text[MOST_LIKELY].x0 - 0.07 * 0.865 * WIDTH_PX
        assert by_text[f"{panel.scale}, {panel.unit}"].x1 < begins


@pytest.mark.parametrize("name", ALL)
def test_letters_are_large_enough_on_a_phone(name: str) -> None:
    for panel in placed(picture(ALL[name])):
        for text, points, _ in panel:
            assert points * DPI / 72 * PHONE_WIDTH / WIDTH_PX >= LEAST_LETTERS, text


def test_it_says_what_and_by_when_and_the_worst_and_the_limit() -> None:
    (panel,) = placed(picture((LAYER,)))
    said = [text for text, _, _ in panel]

    expected = {"maple-layer-1: frost", "leaves, °C", "act before 16:40", "undo tomorrow 9:00", "−5 °C, 6:00"}
    assert expected | {"limit −2.5 °C", "now", "night", "most likely", "8 in 10", "tomorrow"} <= set(said)


def test_lines_differ_by_stroke_and_areas_by_light_not_by_colour_alone() -> None:
    """One man in twelve cannot tell red from green: whatever differs in colour differs in its stroke, too."""
    with own_style():
        (axes,) = figure_of(picture((LAYER,))).axes
    by_colour: dict[object, set[object]] = {}
    for line in axes.lines:
        dashed = str(line.get_linestyle())
        stroke = (dashed, line.get_linewidth(), line.get_marker())
        by_colour.setdefault(line.get_color(), set()).add(stroke)
    strokes = [stroke for each in by_colour.values() for stroke in each]
    assert len(by_colour) >= 4
    assert len(strokes) == len(set(strokes))

    grey = np.asarray(Image.open(io.BytesIO(forecast_png(picture((LAYER,))))).convert("L"), dtype=float)
    night, day = grey[230, 300], grey[230, 700]
    assert day - night > 25


def test_what_a_matplotlibrc_says_changes_nothing_and_nothing_is_left_changed() -> None:
    shown = picture((LAYER,))
    plain = forecast_png(shown)
    with mpl.rc_context({"font.size": 30, "axes.facecolor": "black", "savefig.dpi": 50, "savefig.bbox": "tight"}):
        before = dict(mpl.rcParams)
        assert forecast_png(shown) == plain
        assert dict(mpl.rcParams) == before


def test_hours_of_which_nothing_is_known_are_left_open() -> None:
    course = course_of(LAYER)
    gap = [float("nan") if 20 <= hour < 30 else value for hour, value in enumerate(course.middle)]
    holed = replace(course, low=tuple(gap), middle=tuple(gap), high=tuple(gap))
    shown = picture_of(["maple-layer-1"], [LAYER], [holed], NOW)
    assert shown is not None

    assert forecast_png(shown) != forecast_png(picture((LAYER,)))


def test_the_time_to_act_ends_at_its_hour() -> None:
    """The bar above the frame spans from now to the deadline: 14:05 to 16:40 are 2.6 of the 36-odd hours shown."""
    shown = picture((LAYER,))
    with own_style():
        (axes,) = figure_of(shown).axes
    (bar,) = [line for line in axes.lines if line.get_linewidth() == 7]
    begin, end = (float(value) for value in np.asarray(bar.get_xdata()))

    assert end - begin == pytest.approx(timedelta(hours=2, minutes=35) / HOUR)
    assert begin == pytest.approx((NOW - shown.panels[0].times[0]) / HOUR)
