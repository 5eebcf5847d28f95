"""
A message's picture as PNG, for a phone held upright: what the tree will feel against what it can stand.

Nothing on it is told by colour alone: lines differ by dashes, areas by hatching, and each is labelled where it is.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from carewatch.alerts.picture import Panel, Picture
from carewatch.alerts.picture_words import BAND, GOES_ON, MOST_LIKELY, NIGHT, NOW, day_name, shown_limit
from carewatch.alerts.wording import number

WIDTH_PX = 1080
PANEL_PX = 810
DPI = 200
# Told apart by no eye from the full picture, in a third of the bytes: it may travel over a weak connection at night.
COLOURS = 64
# Eleven points at this width are eleven on a phone 390 points wide. [pt]
BIG, SMALL = 15.0, 11.5
# Of small letters, as a share of the axis's height.
LABEL_HEIGHT = 0.085
# Longer headings are set in small letters: ids of trees have up to 40. [letters]
LONG_HEADING = 36
# Of a palette that colour-blind people can tell apart (Okabe & Ito 2008, from memory).
BLUE, VERMILION, GREEN, GREY = "#0072B2", "#B23A00", "#00664F", "#5A5A5A"
# Ships with matplotlib.
FONT = "DejaVu Sans"

Hours = NDArray[np.float64]


def forecast_png(picture: Picture) -> bytes:
    """The picture as a PNG of WIDTH_PX by PANEL_PX per panel; the same picture gives the same bytes."""
    raw = io.BytesIO()
    with own_style():
        figure_of(picture).savefig(raw, format="rgba")
    size = (WIDTH_PX, PANEL_PX * len(picture.panels))
    drawn = Image.frombytes("RGBA", size, raw.getvalue()).convert("RGB")
    told = PngInfo()
    told.add_itxt("Title", picture.panels[0].heading)
    told.add_itxt("Description", picture.caption)
    out = io.BytesIO()
    drawn.quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True, pnginfo=told)
    return out.getvalue()


@contextmanager
def own_style() -> Iterator[None]:
    """The same look whatever a matplotlibrc of this machine says, while the block runs."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rc("font", **{"family": "sans-serif", "sans-serif": [FONT], "size": SMALL})
        mpl.rc("hatch", linewidth=0.8)
        yield


def figure_of(picture: Picture) -> Figure:
    """The figure, made and to be drawn in `own_style`."""
    count = len(picture.panels)
    figure = Figure(figsize=(WIDTH_PX / DPI, PANEL_PX * count / DPI), dpi=DPI, facecolor="white")
    for place, panel in enumerate(picture.panels):
        # Room for three lines above and two below.
        bottom = 1.0 - (place + 1) / count
        axes = figure.add_axes((0.115, bottom + 0.155 / count, 0.865, 0.595 / count))
        _draw(axes, panel, picture.now)
    return figure


class _Axis:
    """From moments to hours on the axis; in UTC, so that a night in which clocks change keeps its length."""

    def __init__(self, panel: Panel) -> None:
        self.begins = panel.times[0]
        self.length = (panel.times[-1].timestamp() - self.begins.timestamp()) / 3600.0

    def of(self, moment: datetime) -> float:
        """Hours since the first point."""
        return (moment.timestamp() - self.begins.timestamp()) / 3600.0

    def clipped(self, moment: datetime) -> float:
        """As `of`, kept on the axis."""
        return min(max(self.of(moment), 0.0), self.length)


def _draw(axes: Axes, panel: Panel, now: datetime) -> None:
    x = _Axis(panel)
    hours = np.array([x.of(moment) for moment in panel.times])
    low, middle, high = (np.array(values) for values in (panel.low, panel.middle, panel.high))
    bottom, top = _span(panel, low, high)
    axes.set_xlim(0.0, hours[-1])
    axes.set_ylim(bottom, top)
    _nights(axes, panel, x)
    _beyond_the_limit(axes, panel, x, bottom, top)
    axes.fill_between(hours, low, high, facecolor=BLUE, alpha=0.28, linewidth=0, zorder=3)
    for edge in (low, high):
        axes.plot(hours, edge, color=BLUE, linewidth=0.9, linestyle=(0, (1, 1.5)), zorder=4)
    axes.plot(hours, middle, color="black", linewidth=2.6, zorder=5)
    _peak(axes, panel, x)
    _now_and_window(axes, panel, x, now)
    _scales(axes, panel, x, now)
    size = BIG if len(panel.heading) <= LONG_HEADING else SMALL
    axes.text(0.0, 1.28, panel.heading, transform=axes.transAxes, fontsize=size, fontweight="bold", va="bottom")
    axes.text(0.0, 1.17, f"{panel.scale}, {panel.unit}", transform=axes.transAxes, color=GREY, va="bottom")
    _key(axes)


def _span(panel: Panel, low: Hours, high: Hours) -> tuple[float, float]:
    """Ends of the upright axis: all that is drawn, with room for its labels."""
    values = np.concatenate([low, high, [panel.limit, panel.peak]])
    least, most = float(np.nanmin(values)), float(np.nanmax(values))
    room = max(most - least, 2.0 * 10.0**-panel.decimals)
    return least - 0.16 * room, most + 0.14 * room


def _nights(axes: Axes, panel: Panel, x: _Axis) -> None:
    for sunset, sunrise in panel.nights:
        left, right = x.clipped(sunset), x.clipped(sunrise)
        if right - left <= 0.0:
            continue
        axes.axvspan(left, right, facecolor="#D9D9D9", linewidth=0, zorder=0)
        if right - left >= 0.11 * x.length:
            axes.annotate(
                NIGHT,
                ((left + right) / 2, 0.012),
                xycoords=axes.get_xaxis_transform(),
                ha="center",
                va="bottom",
                color=GREY,
                zorder=6,
            )


def _beyond_the_limit(axes: Axes, panel: Panel, x: _Axis, bottom: float, top: float) -> None:
    side = (bottom, panel.limit) if panel.cold else (panel.limit, top)
    axes.axhspan(*side, facecolor="none", edgecolor=VERMILION, hatch="//", alpha=0.35, linewidth=0, zorder=1)
    axes.axhline(panel.limit, color=VERMILION, linewidth=2.2, linestyle=(0, (5, 2)), zorder=4)
    left, above = _place_for_limit(panel, x, bottom, top)
    axes.annotate(
        shown_limit(panel.limit, panel.unit, panel.decimals),
        (0.015 if left else 0.985, panel.limit),
        xycoords=axes.get_yaxis_transform(),
        xytext=(0, 3 if above else -3),
        textcoords="offset points",
        ha="left" if left else "right",
        va="bottom" if above else "top",
        color=VERMILION,
        fontweight="bold",
        path_effects=[withStroke(linewidth=4, foreground="white")],
        zorder=8,
    )


def _place_for_limit(panel: Panel, x: _Axis, bottom: float, top: float) -> tuple[bool, bool]:
    """Where the label of the limit hides least: at the left end or the right one, above its line or below it."""
    height = LABEL_HEIGHT * (top - bottom)
    middle = np.array(panel.middle)
    third = max(1, len(middle) // 3)
    at = x.of(panel.worst_at) / x.length

    def hidden(left: bool, above: bool) -> float:
        low, high = (panel.limit, panel.limit + height) if above else (panel.limit - height, panel.limit)
        if low < bottom or high > top:
            return np.inf
        near = middle[:third] if left else middle[-third:]
        count = float(np.count_nonzero((near > low - height / 3) & (near < high + height / 3)))
        # The worst hour's number stands beside it: to its right, or to its left where there is no room.
        begins, ends = (at - 0.45, at) if _stands_left(at) else (at, at + 0.45)
        beside = low - height < panel.peak < high + height and (begins < 1 / 3 if left else ends > 2 / 3)
        return count + (len(middle) if beside else 0)

    places = [(left, above) for above in (panel.cold, not panel.cold) for left in (False, True)]
    return min(places, key=lambda place: hidden(*place))


def _stands_left(at: float) -> bool:
    """Whether the worst hour's number has no room to its right; at: share of the axis."""
    return at > 0.6


def _peak(axes: Axes, panel: Panel, x: _Axis) -> None:
    """The worst hour, with its number."""
    at = x.of(panel.worst_at)
    if not 0.0 <= at <= x.length:
        return
    axes.plot([at], [panel.peak], marker="o", markersize=8, color="black", markerfacecolor="white", mew=2.2, zorder=7)
    left = _stands_left(at / x.length)
    axes.annotate(
        panel.worst,
        (at, panel.peak),
        xytext=(-9 if left else 9, 0),
        textcoords="offset points",
        ha="right" if left else "left",
        va="center",
        fontsize=BIG,
        fontweight="bold",
        path_effects=[withStroke(linewidth=4, foreground="white")],
        zorder=9,
    )


def _now_and_window(axes: Axes, panel: Panel, x: _Axis, now: datetime) -> None:
    """Above the frame: now, the time that is left to act, and when it may be undone."""
    across = axes.get_xaxis_transform()
    begin, end = x.clipped(now), x.clipped(panel.act_by)
    axes.plot([begin, begin], [-0.12, 1.0], transform=across, clip_on=False, color="black", linewidth=1.4, zorder=4)
    bar: dict[str, Any] = {"transform": across, "clip_on": False, "zorder": 5, "color": GREEN}
    axes.plot([begin, max(end, begin + 0.008 * x.length)], [1.035, 1.035], linewidth=7, **bar)
    if end - begin > 0.02 * x.length:
        axes.plot([end, end], [0.0, 1.07], linewidth=1.8, linestyle=(0, (4, 2)), **bar)
    label: dict[str, Any] = {"xycoords": across, "va": "bottom", "annotation_clip": False, "zorder": 9}
    axes.annotate(panel.deadline, (begin, 1.065), ha="left", color=GREEN, fontsize=BIG, fontweight="bold", **label)
    free_from = begin / x.length + _share_of_width(panel.deadline, BIG)
    if panel.undo_at is not None and panel.undoing and 0.0 <= x.of(panel.undo_at) <= x.length:
        at = x.of(panel.undo_at)
        axes.plot([at, at], [0.0, 1.03], linewidth=1.8, linestyle=(0, (1, 1.5)), **bar)
        leftwards = at / x.length + _share_of_width(panel.undoing, SMALL) > 1.0
        begins = at / x.length - (_share_of_width(panel.undoing, SMALL) if leftwards else 0.0)
        if begins > free_from:
            axes.annotate(panel.undoing, (at, 1.065), ha="right" if leftwards else "left", color=GREEN, **label)
    elif x.of(panel.ends) > x.length and free_from < 0.75:
        axes.annotate(f"{GOES_ON} →", (1.0, 1.065), ha="right", **{**label, "xycoords": "axes fraction"})


def _share_of_width(text: str, size: float) -> float:
    """About how much of the axis a text takes; letters of this font are about six tenths as wide as high."""
    return 0.62 * size * DPI / 72 * len(text) / (0.865 * WIDTH_PX)


def _scales(axes: Axes, panel: Panel, x: _Axis, now: datetime) -> None:
    """Hours of the wall clock below, with the day at its noon; numbers at the left."""
    every = 6 if x.length <= 54 else 12
    marks, names, days = [], [], []
    for moment in _full_hours(panel.times[0], panel.times[-1]):
        if moment.hour % every == 0 and moment.minute == 0:
            marks.append(x.of(moment))
            names.append(f"{moment.hour}")
        inside = 0.06 * x.length < x.of(moment) < 0.92 * x.length
        if moment.hour == 12 and moment.minute == 0 and inside and abs(x.of(moment) - x.of(now)) > 0.15 * x.length:
            days.append((x.of(moment), day_name(moment, now)))
        if moment.hour == 0 and moment.minute == 0:
            axes.axvline(x.of(moment), color=GREY, linewidth=0.8, linestyle=(0, (1, 3)), zorder=1)
    axes.set_xticks(marks, names)
    for at, name in [(x.clipped(now), NOW), *days]:
        axes.annotate(
            name,
            (at, -0.135),
            xycoords=axes.get_xaxis_transform(),
            ha="center",
            va="top",
            fontweight="bold",
            annotation_clip=False,
        )
    axes.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=panel.decimals == 0))
    axes.yaxis.set_major_formatter(lambda value, _: number(value, 0 if value == round(value) else panel.decimals))
    axes.tick_params(length=5, width=1.0, pad=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _full_hours(first: datetime, last: datetime) -> list[datetime]:
    """Every full hour between two moments, on the wall clock of their zone."""
    count = int((last.timestamp() - first.timestamp()) // 3600)
    utc = [first.timestamp() + 3600.0 * hour for hour in range(count + 1)]
    return [datetime.fromtimestamp(stamp, first.tzinfo) for stamp in utc]


def _key(axes: Axes) -> None:
    """The two kinds of line, at the top right, where the lines of the panel stand in the same strokes."""
    at = 1.215
    axes.plot([0.50, 0.56], [at, at], color="black", linewidth=2.6, transform=axes.transAxes, clip_on=False)
    axes.text(0.57, at, MOST_LIKELY, transform=axes.transAxes, va="center")
    band = Rectangle((0.80, at - 0.03), 0.05, 0.06, transform=axes.transAxes, clip_on=False, facecolor=BLUE, alpha=0.28)
    axes.add_patch(band)
    for edge in (-0.03, 0.03):
        axes.plot(
            [0.80, 0.85],
            [at + edge, at + edge],
            color=BLUE,
            linewidth=0.9,
            linestyle=(0, (1, 1.5)),
            transform=axes.transAxes,
            clip_on=False,
        )
    axes.text(0.86, at, BAND, transform=axes.transAxes, va="center")
