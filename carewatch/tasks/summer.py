"""The summer plan: which pots and crowns have to be in the shade before the first heat, and by which date."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.care.garden import Garden
from carewatch.care.whole_log import in_force
from carewatch.condition.season import EQUINOX
from carewatch.forecast.weather import Array
from carewatch.limits.doses import HazardNumbers
from carewatch.place.spot import Place
from carewatch.tasks.fragility import HARDLY_ANY
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Prospect, stands_at
from carewatch.tasks.quarters import stretch_from
from carewatch.tasks.season import SHADE_CLOTH, SHADY, is_shaded
from carewatch.tasks.task import SHADE_CROWN, SHADE_POT, Draft
from carewatch.tasks.wording import day_of

# Measures that keep the sun off a pot's wall.
POT_SHADED_BY = ("shade-pot", "plunge")


@dataclass(frozen=True)
class Summer:
    """
    A tree in the coming summer, or in what is left of this one.

    by: first day on which a hot spell can reach a limit, which may be past; until: last one. pot, crown: what of it is
    reached then; root_c, root_limit_c, leaf_c, leaf_limit_c: felt on the hottest afternoon, and borne. [°C]
    """

    prospect: Prospect
    by: date
    until: date
    pot: bool
    crown: bool
    root_c: float
    root_limit_c: float
    leaf_c: float
    leaf_limit_c: float


def summer_plan(
    found: Sequence[Prospect], garden: Garden, usual_c: Array, spell_k: float, numbers: TaskNumbers
) -> Iterator[tuple[Prospect, Draft]]:
    """
    Which trees want shade on pot or crown before the first heat, and by when.

    usual_c: of the open air, a row per day of the prospects [°C]; spell_k: hottest three days above it. [K]
    A tree in its first year as a layer stays where it stands and is shaded there; others go into a shady place.
    """
    taken: dict[str, int] = {}
    for prospect in found:
        stands = stands_at(prospect.tree, prospect.log)
        taken[stands] = taken.get(stands, 0) + 1
    for prospect in found:
        summer = _summer(prospect, garden.places, usual_c + spell_k + numbers.hot_above_mean_k, numbers)
        if summer is None:
            continue
        place = _shade_for(summer, garden.places, taken) if summer.crown else None
        if place is not None:
            taken[place] = taken.get(place, 0) + 1
        yield prospect, _draft(summer, place, numbers)


def _summer(prospect: Prospect, places: Mapping[str, Place], hot_c: Array, numbers: TaskNumbers) -> Summer | None:
    """The coming summer of a tree, or None if heat is not to be feared where it stands or it is shaded already."""
    tree, season = prospect.tree, prospect.lived.season
    place = places.get(stands_at(tree, prospect.log))
    if place is not None and (place.enclosed or place.kind in SHADY):
        return None
    span = stretch_from(season.height >= EQUINOX, prospect.index(prospect.today))
    if span is None:
        return None
    start, stop = span
    begin = max(start, prospect.index(prospect.today))
    middle = prospect.on(prospect.day(max(begin, (start + stop) // 2)))
    open_sky = 1.0 if place is None else 1.0 - place.shade_cloth
    root_c = hot_c[start:stop] + numbers.pot_sun_k * tree.pot.absorptance * open_sky
    leaf_c = hot_c[start:stop] + numbers.leaf_sun_k * open_sky
    root_limit_c = root_heat_limit_c(numbers.hazards, numbers.heat_hours, middle.young_roots > HARDLY_ANY)
    leaf_limit_c = tree.species.leaf_heat_4h_c[0] + prospect.on(prospect.day(begin)).heat_shift_k
    pot, crown = root_c >= root_limit_c, leaf_c >= leaf_limit_c
    near = np.flatnonzero(
        (root_c >= root_limit_c - numbers.summer_margin_k) & bool(pot.any())
        | (leaf_c >= leaf_limit_c - numbers.summer_margin_k) & bool(crown.any())
    )
    if not near.size or start + int(near[-1]) < begin:
        return None
    return Summer(
        prospect,
        prospect.day(start + int(near[0])),
        prospect.day(start + int(near[-1])),
        bool(pot.any()),
        bool(crown.any()),
        float(root_c.max()),
        root_limit_c,
        float(leaf_c.max()),
        leaf_limit_c,
    )


def root_heat_limit_c(hazards: HazardNumbers, hours: float, young: bool) -> float:
    """Root-zone temperature that does a tenth of the damage when it lasts for so many hours. [h], [°C]"""
    half = hazards.root_heat_50_c - hazards.root_heat_slope_k * float(np.log10(hours / hazards.root_heat_ref_h))
    return half + hazards.root_heat_10_shift_k + (hazards.root_heat_young_shift_k if young else 0.0)


def _shade_for(summer: Summer, places: Mapping[str, Place], taken: Mapping[str, int]) -> str | None:
    """A shady place with room for a tree that may be moved, or None."""
    prospect = summer.prospect
    if prospect.tree.fixed or prospect.now.layer:
        return None
    for place in places.values():
        if place.kind in SHADY and (place.room is None or taken.get(place.id, 0) < place.room):
            return place.id
    return None


def _draft(summer: Summer, place: str | None, numbers: TaskNumbers) -> Draft:
    by = summer.by
    about = place or (SHADE_CROWN if summer.crown else SHADE_POT)
    said = []
    if summer.pot:
        said.append(
            f"in full sun the outer roots of its pot reach about {summer.root_c:.0f} °C on a hot afternoon here once "
            f"it dries out, and are harmed from {summer.root_limit_c:.0f} °C on"
        )
    if summer.crown:
        said.append(f"its leaves reach about {summer.leaf_c:.0f} °C and bear {summer.leaf_limit_c:.0f} °C for hours")
    how = "A board, a white cloth or a second pot before the sunny side is enough" if about == SHADE_POT else ""
    if about == SHADE_CROWN:
        how = "Cloth over it and a board before its pot, where it stands"
    reason = "; ".join(said)
    reason = f"{reason[0].upper()}{reason[1:]}."
    return Draft(
        "summer-place",
        by - timedelta(days=numbers.summer_open_days),
        by - timedelta(days=numbers.summer_open_days),
        by,
        f"{reason} {how}; leave it until about {day_of(summer.until)}." if how else reason,
        f"The first heat moves it: from {day_of(by)} on a hot spell can reach its limit. Light walls and a moist ball "
        "put it off.",
        numbers.sources["summer"],
        about,
        _done(summer),
    )


def _done(summer: Summer) -> date | None:
    """Since when what is in danger has been in the shade, by the log; for good ones today."""
    prospect = summer.prospect
    begun = in_force(prospect.log, prospect.tree.id)
    if is_shaded(prospect, {}):
        cloth = begun.get(SHADE_CLOTH)
        return prospect.today if cloth is None else cloth.at.date()
    if summer.crown:
        return None
    if any(name in POT_SHADED_BY for name in prospect.tree.measures):
        return prospect.today
    return next((begun[name].at.date() for name in POT_SHADED_BY if name in begun), None)
