"""When works are right and which do not go together: frozen values, read from seasons.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from carewatch.care.species import Species

# Leaves that cold above this hurts make a tree a tender one: -2 °C is what no hardy evergreen minds (judged). [°C]
TENDER_ABOVE_C = -2.0


@dataclass(frozen=True)
class Bound:
    """
    One end of a window.

    at: an event of the tree's year ("leaf-out"), or month and day of the northern year ("05-20"); days: after it. [d]
    """

    at: str
    days: int


@dataclass(frozen=True)
class Window:
    """From one bound until the next time that the other comes."""

    opens: Bound
    closes: Bound


@dataclass(frozen=True)
class SeasonRule:
    """
    When some works are right on some kinds of tree.

    works, of: names of works; genera and kinds. windows: none where they are never right.
    nights_above_c: usual nights at least, or None. [°C] weeks_before_frost: left until frost is usual, or None.
    root_weeks, root_above_c: weeks to come with a warm root zone, and how warm; or None. [°C]
    winter_place: a garden with a place for the winter is let off those weeks.
    when, why: clauses for the grower; source: where they come from.
    """

    works: tuple[str, ...]
    of: tuple[str, ...]
    windows: tuple[Window, ...]
    nights_above_c: float | None
    weeks_before_frost: int | None
    root_weeks: int | None
    root_above_c: float | None
    winter_place: bool
    when: str
    why: str
    source: str


@dataclass(frozen=True)
class StackingRule:
    """
    Works that wait after others, or after what was seen.

    days: that they wait, or None: until the next growing season. [d] why: a clause; source: where it comes from.
    """

    works: tuple[str, ...]
    after: tuple[str, ...]
    days: int | None
    why: str
    source: str


@dataclass(frozen=True)
class Vigour:
    """Works that want roots which feed at least this share of the crown. [0-1]"""

    works: tuple[str, ...]
    least_root_supply: float
    source: str


@dataclass(frozen=True)
class DayRule:
    """
    What the day of some works must be like.

    least_air_c: at work. [°C] dry_before_h, dry_after_h: without rain, or 0. [h] why: a clause.
    """

    works: tuple[str, ...]
    least_air_c: float
    dry_before_h: float
    dry_after_h: float
    why: str
    source: str


@dataclass(frozen=True)
class WorkRules:
    """
    Everything that is asked before the weather.

    heavy: hard works and the share beyond which each counts as one. [0-1] heavy_source: where that comes from.
    """

    seasons: tuple[SeasonRule, ...]
    stacking: tuple[StackingRule, ...]
    heavy: Mapping[str, float]
    heavy_source: str
    vigour: Vigour
    days: tuple[DayRule, ...]

    def season_of(self, work: str, species: Species) -> SeasonRule | None:
        """The rule of a work for a kind of tree, that of its genus before that of its kind; None: free all year."""
        for name in (genus_of(species), kind_of(species)):
            for rule in self.seasons:
                if work in rule.works and name in rule.of:
                    return rule
        return None

    def wait(self, work: str, after: str) -> tuple[int, str]:
        """
        For how many days a work waits after another, and where that comes from. [d]

        Raises KeyError where the table counts no days for them.
        """
        for rule in self.stacking:
            if work in rule.works and after in rule.after and rule.days is not None:
                return rule.days, rule.source
        raise KeyError(f"{work} after {after}")

    def day_of(self, work: str) -> DayRule | None:
        """What the day of a work must be like, or None."""
        return next((rule for rule in self.days if work in rule.works), None)


def genus_of(species: Species) -> str:
    """The genus that was asked for, however its numbers were found."""
    words = species.asked_for.split() or [species.name]
    return words[0].capitalize()


def kind_of(species: Species) -> str:
    """The kind that rules are written for: by its leaves, whether it keeps them, and whether it bears cold."""
    if species.leaf_class == "needle":
        return "conifer" if species.evergreen else "deciduous-conifer"
    if not species.evergreen:
        return "deciduous"
    return "tender" if is_tender(species) else "evergreen"


def is_tender(species: Species) -> bool:
    """Whether a kind wants its winter free of frost, or warm."""
    return species.evergreen and species.frost_c["winter-hard"][0] > TENDER_ABOVE_C
