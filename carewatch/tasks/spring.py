"""Trees in their winter quarters: who came in, which layer stays in until spring, who comes out and when."""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

import numpy as np

from carewatch.care.garden import Garden
from carewatch.care.species import Species
from carewatch.care.work_rules import is_tender
from carewatch.condition.season import EQUINOX
from carewatch.condition.stage import DORMANT
from carewatch.forecast.weather import Array
from carewatch.limits.tolerance import tender_night_c
from carewatch.place.spot import Place
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Flags, Prospect, stands_at
from carewatch.tasks.task import Draft

# Kinds of quarters in the order of choice: leafless trees want it dark and cool, leaves want light, tender ones warmth.
FOR_LEAFLESS, FOR_LEAFY, FOR_FROST_TENDER, FOR_COLD_TENDER = (
    ("shed", "cold-frame", "tunnel"),
    ("cold-frame", "tunnel"),
    ("cold-frame", "tunnel", "indoors"),
    ("indoors", "tunnel", "cold-frame"),
)
CARRIED_ONCE = "A first-year layer is carried once, for the whole winter"


def kinds_for(species: Species) -> tuple[str, ...]:
    """Kinds of places in which a species may winter, in the order of choice."""
    if is_tender(species):
        return FOR_COLD_TENDER if tender_night_c(species) > 0.0 else FOR_FROST_TENDER
    return FOR_LEAFY if species.evergreen else FOR_LEAFLESS


def may_winter_in(species: Species, place: Place) -> bool:
    """Whether a place suits a species for a winter, its cold left aside: hardy kinds are never kept in warm rooms."""
    return place.kind in kinds_for(species) and (place.heated_to_c is None or is_tender(species))


def stays_in(prospect: Prospect, places: Mapping[str, Place], numbers: TaskNumbers) -> Place | None:
    """
    The place under whose roof a first-year layer stays until spring, or None.

    Every carry breaks new roots. Once it rests, or within three weeks of that, one that was brought into a place in
    which it may winter is in its quarters, whoever sent it there: out between two frosts and in again is two carries
    more.
    """
    place = places.get(stands_at(prospect.tree, prospect.log))
    home = places.get(prospect.tree.place)
    if place is None or place is home or place.id not in shelters_for(prospect, places, numbers):
        return None
    return place


def shelters_for(prospect: Prospect, places: Mapping[str, Place], numbers: TaskNumbers) -> tuple[str, ...]:
    """The places with a roof in which a first-year layer stays if it is brought there now; none for other trees."""
    if not prospect.now.layer or not _rests_soon(prospect, numbers):
        return ()
    species = prospect.tree.species
    return tuple(place.id for place in places.values() if place.enclosed and may_winter_in(species, place))


def shelters_by_layer(
    found: Iterable[Prospect], places: Mapping[str, Place], numbers: TaskNumbers
) -> dict[str, tuple[str, ...]]:
    """`shelters_for` of every layer that has any: also of those for which the winter plan has no order."""
    return {prospect.tree.id: kept for prospect in found if (kept := shelters_for(prospect, places, numbers))}


def _rests_soon(prospect: Prospect, numbers: TaskNumbers) -> bool:
    """Whether a tree rests, or will within three weeks of autumn."""
    today = prospect.index(prospect.today)
    if int(prospect.stage.phases[today]) == DORMANT:
        return True
    season = prospect.lived.season
    if season.rising[today] or season.height[today] >= EQUINOX:
        return False
    rests = prospect.first_of(prospect.stage.phases == DORMANT, prospect.today)
    return rests is not None and rests <= prospect.today + timedelta(days=numbers.winter_asleep_days)


def moved_in(prospect: Prospect, places: Mapping[str, Place], numbers: TaskNumbers) -> Draft | None:
    """The move into winter quarters that was made lately, as a task that is done; None if there was none."""
    place = places.get(stands_at(prospect.tree, prospect.log))
    if place is None or not place.enclosed:
        return None
    came = _came_on(prospect)
    if came is None or float(prospect.lived.season.height[prospect.index(came)]) >= EQUINOX:
        return None
    stays = stays_in(prospect, places, numbers) is place
    once = f" {CARRIED_ONCE}: it stays there until spring." if stays else ""
    return Draft(
        "winter-place",
        came,
        came,
        came,
        f"It stands in {place.id}.{once}",
        "Done for this winter.",
        numbers.sources["winter"],
        place.id,
        came,
        stays,
    )


def spring_out(prospect: Prospect, garden: Garden, mean_c: Array, numbers: TaskNumbers, planned: bool) -> Draft | None:
    """
    When a tree that stands in winter quarters, or is planned to, comes out.

    mean_c: of the open air, a row per day of the prospect. [°C]
    """
    stands = garden.places.get(stands_at(prospect.tree, prospect.log))
    home = garden.places.get(prospect.tree.place)
    inside = stands is not None and stands.enclosed
    if not inside and not planned:
        return None
    if inside and home is not None and home.enclosed and home is stands:
        return None
    season = prospect.lived.season
    species = prospect.tree.species
    tender = is_tender(species) and tender_night_c(species) > 0.0
    wanted = numbers.spring_tender_mean_c if tender else numbers.spring_mean_c
    span = numbers.spring_mean_days
    warm = np.convolve((mean_c >= wanted).astype(float), np.ones(span))[: mean_c.size] >= span - 0.5
    stirs: Flags = prospect.stage.waking >= 1.0
    out = season.rising & (warm if tender else (warm | stirs))
    since = _came_on(prospect) if inside else winter_planned_from(prospect)
    first = prospect.first_of(out, since or prospect.today)
    if first is None:
        return None
    by_buds = bool(stirs[prospect.index(first)]) and not tender
    why = "its buds move" if by_buds else f"the days come to {wanted:.0f} °C in the mean"
    name = stands.id if inside and stands is not None else "its winter quarters"
    careful = ", once, level and tied," if prospect.on(first).layer else ""
    stays = stays_in(prospect, garden.places, numbers) is not None
    once = f"{CARRIED_ONCE}: it stays in {name} until spring. " if stays else ""
    return Draft(
        "spring-out",
        first,
        first,
        first + timedelta(days=numbers.spring_open_days),
        f"{once}Out of {name}{careful} when {why}: longer inside, warmth drives soft shoots. "
        "Three days in shade first, and under cover in nights of frost.",
        "Warmth moves it, and buds most of all: what moves early comes out early; an observation wins.",
        numbers.sources["spring"],
        prospect.tree.place,
        stays=stays,
    )


def winter_planned_from(prospect: Prospect) -> date:
    """Today, or midsummer where that is to come: what is planned in early summer is planned for the winter after it."""
    season = prospect.lived.season
    index = prospect.index(prospect.today)
    if season.rising[index] and season.height[index] >= EQUINOX:
        return prospect.first_of(~season.rising, prospect.today) or prospect.end
    return prospect.today


def _came_on(prospect: Prospect) -> date | None:
    """Day of the last move of the log."""
    moves = [
        entry.at.date()
        for entry in prospect.log
        if entry.work == "move" or (entry.work == "begin" and str(entry.measure).startswith("move:"))
    ]
    return moves[-1] if moves else None
