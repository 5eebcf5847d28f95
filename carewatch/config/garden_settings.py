"""
What stands in the garden, as config.toml and garden.toml say it: [[place]], [[tree]], [[tree.work]].

Names are looked up in the tables that come with the validation's context (`Known`); without a context they pass.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from carewatch.care.log import NOTES, OBSERVATIONS, WORKS
from carewatch.config.problems import nearest_names, one_of, refused
from carewatch.config.tables import Tables, UnknownName
from carewatch.config.values import BranchName, Day, Horizon, Identifier, Moment, Number, Section, Share, Text, Whole
from carewatch.tasks.task import KINDS

MOVE = "move:"
WATERING = ("daily", "twice-daily", "every-2-days", "every-3-days", "rain-only")
# Works of which a share is the measure, and whether the share must be given.
REMOVED_NEEDED = ("root-prune", "defoliate", "hard-prune")
REMOVED_ALLOWED = (*REMOVED_NEEDED, "repot", "lift", "sever-layer", "cut-off", "observe")
# Observations that may come with the share of the leaves that they are about.
SHARE_SEEN = ("scorch",)
# Notes about a task of the long clock name it where others name their measure.
OF_A_TASK = ("checked", "put-off")
WITH_MEASURE = ("begin", "end", *OF_A_TASK)
# An option that some kinds of entries need and no other may have.
OPTION_OF = {"to": ("move",), "seen": ("observe",), "measure": WITH_MEASURE, "roots": ("sever-layer",)}
# An option that some kinds of entries may have and no other.
CUTTING = ("set-layer", "sever-layer", "root-prune", "repot", "lift", "defoliate", "hard-prune", "cut-off", "graft")
ALLOWED_WITH = {
    "roots_worked": ("sever-layer", "root-prune", "repot", "lift"),
    "paste": (*CUTTING, "seal", "bend", "unwire"),
    "tied": tuple(work for work in (*WORKS, "move") if work not in ("untie", "feed", "seal", "unwire", "sacrifice")),
    "branch": (
        "set-layer",
        "wire",
        "bend",
        "unwire",
        "sacrifice",
        "cut-off",
        "hard-prune",
        "graft",
        "seal",
        *OF_A_TASK,
    ),
    "gauge_mm": ("wire", "bend"),
    "due": ("sacrifice", "put-off"),
    "other_tree": ("sever-layer", "cut-off"),
}
EARLIEST_YEAR = 1950


@dataclass(frozen=True)
class Known:
    """
    What the settings are checked against.

    now: aware; no entry of the log may lie after it.
    zone: of the site, or None when the file does not tell it properly.
    places: ids of all places of both files.
    """

    tables: Tables
    now: datetime
    zone: tzinfo | None
    places: tuple[str, ...]


def local_moment(on: datetime | date, zone: tzinfo) -> datetime:
    """`on` with a time zone: as it is, or as local time; a bare date is noon of that day."""
    if not isinstance(on, datetime):
        return datetime.combine(on, time(12), tzinfo=zone)
    return on if on.tzinfo is not None else on.replace(tzinfo=zone)


def _checked(name: str, info: ValidationInfo, names: Callable[[Known], Iterable[str]], what: str) -> str:
    if isinstance(info.context, Known):
        valid = tuple(names(info.context))
        if name not in valid:
            raise refused(f"is not a known {what}", one_of(valid), nearest_names(name, valid))
    return name


def _kind(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: known.tables.place_kinds, "kind of place")


def _place(name: str, info: ValidationInfo) -> str:
    accepted = _checked(name, info, lambda known: known.places, "place") if _some_places(info) else ""
    if not accepted and isinstance(info.context, Known):
        raise refused("is not a known place", "the id of a [[place]]; there is none yet")
    return name


def _some_places(info: ValidationInfo) -> bool:
    return isinstance(info.context, Known) and bool(info.context.places)


def _species(name: str, info: ValidationInfo) -> str:
    # With a kind that was refused nothing can be said of the species.
    if isinstance(info.context, Known) and "kind" in info.data:
        nearest: tuple[str, ...] | None = None
        try:
            info.context.tables.species_for(name, info.data.get("kind"))
        except UnknownName as unknown:
            nearest = tuple(unknown.nearest)
        if nearest is not None:
            kinds = one_of(info.context.tables.class_rows)
            accepted = (
                f"the botanical name of a species or genus that carewatch knows, or any with the key kind, {kinds}"
            )
            raise refused("is not a known species", accepted, nearest)
    return name


def _kind_of_tree(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: known.tables.class_rows, "kind of tree")


def _measure(name: str, info: ValidationInfo) -> str:
    if info.data.get("work") in OF_A_TASK:
        if name not in KINDS:
            raise refused("is not a known task", one_of(KINDS), nearest_names(name, KINDS))
        return name
    if name.startswith(MOVE):
        place = name.removeprefix(MOVE)
        if isinstance(info.context, Known) and place not in info.context.places:
            near = tuple(MOVE + other for other in nearest_names(place, info.context.places))
            raise refused("moves to a place that is not known", f'"{MOVE}" and the id of a [[place]]', near)
        return name
    return _standing_measure(name, info)


def _standing_measure(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: (n for n in known.tables.measures if n != "move"), "measure")


def _work(name: str) -> str:
    names = (*WORKS, *NOTES)
    if name not in names:
        raise refused("is not a known work", one_of(names), nearest_names(name, names))
    return name


def _observation(name: str) -> str:
    if name not in OBSERVATIONS:
        raise refused("is not a known observation", one_of(OBSERVATIONS), nearest_names(name, OBSERVATIONS))
    return name


def _material(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: known.tables.pot_materials, "material of a pot")


def _colour(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: known.tables.pot_colours, "colour of a pot")


def _substrate(name: str, info: ValidationInfo) -> str:
    return _checked(name, info, lambda known: known.tables.substrates, "substrate")


def _watering(name: str) -> str:
    if name not in WATERING:
        raise refused("is not a known habit of watering", one_of(WATERING), nearest_names(name, WATERING))
    return name


Length = Annotated[Number, Field(gt=0, le=300)]


class PlaceSettings(Section):
    """[[place]]: one corner of the garden. What is left out comes from the table of place kinds."""

    id: Identifier = Field(description="1 to 40 of the signs a-z, 0-9 and -")
    kind: Annotated[str, AfterValidator(_kind)] = Field(description="a kind of place")
    height_m: Number | None = Field(None, ge=0, le=60, description="metres from the floor to the pots' base, 0 to 60")
    sky_view: Share | None = Field(None, description="0 (no open sky) to 1 (all of it)")
    sky_view_leafless: Share | None = Field(None, description="0 to 1, and not less than sky_view")
    horizon: Horizon | None = Field(
        None,
        description="a list of pairs [azimuth, elevation] in degrees, azimuth 0 to 360 clockwise from north and each "
        "only once, elevation 0 to 90",
    )
    shelter: Share | None = Field(None, description="0 (open to the wind) to 1 (no wind)")
    rain_reach: Share | None = Field(None, description="0 (dry) to 1 (all the rain)")
    shade_cloth: Share | None = Field(None, description="0 (none) to 1 (no light passes)")
    heated_to_c: Number | None = Field(None, ge=-10, le=35, description="°C that a heater holds, -10 to 35")
    room: Whole | None = Field(None, ge=0, le=10000, description="how many pots find room, a whole number, 0 to 10000")

    @model_validator(mode="after")
    def _bare_trees_hide_less(self) -> Self:
        if self.sky_view is not None and self.sky_view_leafless is not None and self.sky_view_leafless < self.sky_view:
            raise refused("has less sky without leaves than with them", "sky_view_leafless not less than sky_view")
        return self


class PotSettings(Section):
    """The pot: its inner measures, or the volume of its substrate, or both."""

    length_cm: Length | None = Field(None, description="centimetres, over 0 and up to 300")
    width_cm: Length | None = Field(None, description="centimetres, over 0 and up to 300")
    depth_cm: Length | None = Field(None, description="centimetres, over 0 and up to 300")
    volume_l: Number | None = Field(None, gt=0, le=2000, description="litres, over 0 and up to 2000")
    # The pot that young trees are sold in (common practice).
    material: Annotated[str, AfterValidator(_material)] = Field("plastic", description="a material of pots")
    # As such pots are; None for a material that is a colour of its own, such as terracotta.
    colour: Annotated[str, AfterValidator(_colour)] | None = Field(None, description="a colour of pots")

    @model_validator(mode="after")
    def _has_a_size(self) -> Self:
        sides = (self.length_cm, self.width_cm, self.depth_cm)
        needed = "length_cm, width_cm and depth_cm, or volume_l, or all four"
        if any(sides) and None in sides:
            raise refused("has only some of its measures", needed)
        if self.volume_l is None and None in sides:
            raise refused("has no size", needed)
        if self.volume_l is not None and self.length_cm and self.width_cm and self.depth_cm:
            box_l = self.length_cm * self.width_cm * self.depth_cm / 1000
            # A tenth more for what is rounded in the measures.
            if self.volume_l > 1.1 * box_l:
                raise refused(f"cannot hold its volume_l: its measures make {box_l:.3g} litres", needed)
        return self


class WorkSettings(Section):
    """[[tree.work]]: an entry of the care log that stands in the file."""

    work: Annotated[str, AfterValidator(_work)] = Field(description="a work or a note of the care log")
    on: Moment = Field(
        description="a date, or a date and time (local unless it has an offset), such as 2026-03-14, not in the future"
    )
    roots: Literal["sparse", "fair", "dense"] | None = Field(
        None, description='"sparse", "fair" or "dense"; sever-layer needs it'
    )
    roots_worked: bool = Field(False, description="true or false")
    removed: Number | None = Field(
        None,
        gt=0,
        le=1,
        description=f"a share over 0 and up to 1, such as 0.3 for 30 %; {', '.join(REMOVED_NEEDED)} need it",
    )
    tied: bool = Field(False, description="true or false")
    paste: bool = Field(False, description="true or false")
    branch: BranchName | None = Field(
        None, max_length=60, description='a name of up to 60 signs, such as "low left", or "trunk"; sacrifice needs it'
    )
    # Aluminium and copper wire for trees is sold from 0.8 to 8 mm (common practice). [mm]
    gauge_mm: Number | None = Field(None, ge=0.3, le=12, description="millimetres of wire, 0.3 to 12")
    due: Day | None = Field(None, description="a date after `on`, such as 2027-08-20")
    other_tree: Identifier | None = Field(
        None, description="the id of the tree from which a layer was taken, or which was taken off with cut-off"
    )
    to: Annotated[str, AfterValidator(_place)] | None = Field(None, description="the id of a [[place]]; move needs it")
    seen: Annotated[str, AfterValidator(_observation)] | None = Field(
        None, description=f"an observation, {one_of(OBSERVATIONS)}; observe needs it"
    )
    measure: Annotated[str, AfterValidator(_measure)] | None = Field(
        None,
        description='a measure, or "move:" and the id of a [[place]], where it begins or ends; a task of the long '
        "clock where one was checked or put off",
    )
    note: str | None = Field(None, max_length=2000, description="a text of up to 2000 signs")

    @field_validator("on")
    @classmethod
    def _not_in_the_future(cls, on: datetime | date, info: ValidationInfo) -> datetime | date:
        if on.year < EARLIEST_YEAR:
            raise refused(f"lies before {EARLIEST_YEAR}")
        if isinstance(info.context, Known):
            zone = info.context.zone or info.context.now.tzinfo
            today = info.context.now.astimezone(zone).date()
            if isinstance(on, datetime):
                future = zone is not None and local_moment(on, zone) > info.context.now
            else:
                # A bare date is noon, but today's work may well be written down in the morning.
                future = on > today
            if future:
                raise refused(f"lies in the future (today is {today})")
        return on

    @field_validator("removed")
    @classmethod
    def _share_where_it_means_something(cls, removed: float | None, info: ValidationInfo) -> float | None:
        work = info.data.get("work")
        if removed is None and work in REMOVED_NEEDED:
            raise refused("is missing")
        if removed is not None and work is not None and work not in REMOVED_ALLOWED:
            raise refused(f"has no meaning with {work}", f"only with {', '.join(REMOVED_ALLOWED)}")
        if removed == 1 and work in ("root-prune", "hard-prune", "cut-off"):
            raise refused("leaves nothing of the tree", "a share over 0 and below 1")
        return removed

    @field_validator("branch")
    @classmethod
    def _sacrifice_names_its_branch(cls, branch: str | None, info: ValidationInfo) -> str | None:
        if branch is None and info.data.get("work") == "sacrifice":
            raise refused("is missing")
        return branch

    @field_validator("due")
    @classmethod
    def _planned_for_later(cls, due: date | None, info: ValidationInfo) -> date | None:
        on = info.data.get("on")
        if due is not None and isinstance(on, date) and due <= (on.date() if isinstance(on, datetime) else on):
            raise refused("is not after the day on which it is planned")
        return due

    @field_validator(*ALLOWED_WITH)
    @classmethod
    def _option_with_its_entries(cls, value: object, info: ValidationInfo) -> object:
        work, owners = info.data.get("work"), ALLOWED_WITH[str(info.field_name)]
        if value not in (None, False) and work is not None and work not in owners:
            raise refused(f"has no meaning with {work}", f"only with {', '.join(owners)}")
        return value

    @field_validator("roots", "to", "seen", "measure")
    @classmethod
    def _option_of_its_entry(cls, value: str | None, info: ValidationInfo) -> str | None:
        work = info.data.get("work")
        owners = OPTION_OF[str(info.field_name)]
        if value is None and work in owners:
            raise refused("is missing")
        if value is not None and work is not None and work not in owners:
            raise refused(f"has no meaning with {work}", f"only with {' or '.join(owners)}")
        shared = info.field_name == "seen" and info.data.get("removed") is not None
        if shared and value is not None and value not in SHARE_SEEN:
            raise refused("has no share (removed) of leaves", f"a share only with {' or '.join(SHARE_SEEN)}")
        return value


def _some_pot() -> PotSettings:
    """A pot of five litres: the size in which a tree of the default height is usually grown on (estimate)."""
    return PotSettings(volume_l=5)


class TreeSettings(Section):
    """[[tree]]: one tree and its pot."""

    id: Identifier = Field(description="1 to 40 of the signs a-z, 0-9 and -")
    # Before the species, which is looked up with it.
    kind: Annotated[str, AfterValidator(_kind_of_tree)] | None = Field(
        None, description="a kind of tree, whose numbers serve where the species and its genus are not known"
    )
    species: Annotated[Text, AfterValidator(_species)] = Field(
        description='the botanical name of a species or genus that carewatch knows, such as "Acer palmatum"'
    )
    place: Annotated[str, AfterValidator(_place)] = Field(description="the id of a [[place]]")
    # By definition the ordinary tree of this garden.
    worth: Number = Field(1, gt=0, le=100, description="over 0 and up to 100; 1 is an ordinary tree of this garden")
    fixed: bool = Field(False, description="true or false")
    # Estimates: a medium container tree.
    height_cm: Number = Field(40, gt=0, le=1000, description="centimetres above the pot's rim, over 0 and up to 1000")
    crown_cm: Number = Field(30, gt=0, le=1000, description="centimetres across the crown, over 0 and up to 1000")
    # None: "loam-mix" where the table has it, otherwise the table's first row.
    substrate: Annotated[str, AfterValidator(_substrate)] | None = Field(None, description="a substrate")
    # Common practice for containers in the growing season.
    watering: Annotated[str, AfterValidator(_watering)] = Field("daily", description=one_of(WATERING))
    measures: tuple[Annotated[str, AfterValidator(_standing_measure)], ...] = Field(
        (), description="a list of measures that are in force all the time"
    )
    since: Day | None = Field(None, description="the first day in this garden, a date such as 2024-03-01")
    pot: PotSettings = Field(
        default_factory=_some_pot,
        description='a table, such as { volume_l = 3, material = "terracotta" }, or length_cm, width_cm and depth_cm',
    )
    work: tuple[WorkSettings, ...] = Field((), description="tables headed [[tree.work]]")
