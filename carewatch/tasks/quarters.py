"""The winter plan: who winters where, and by which date."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.care.garden import Garden, Stock
from carewatch.care.whole_log import MOVE, in_force
from carewatch.care.work_rules import is_tender
from carewatch.condition.lived import enclosed_mean_c
from carewatch.condition.season import EQUINOX
from carewatch.condition.stage import DORMANT
from carewatch.limits.tolerance import mature_root_frost_c, tender_night_c
from carewatch.place.spot import Place
from carewatch.tasks.fragility import HARDLY_ANY
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.outside import Outside
from carewatch.tasks.prospect import Flags, Prospect, stands_at
from carewatch.tasks.spring import FOR_LEAFLESS, kinds_for, stays_in
from carewatch.tasks.task import BANK, WRAP, WRAP_HOLDS, Draft
from carewatch.tasks.wording import day_of

BANKED = ("plunge",)
WRAPPED = ("insulate-pot", *BANKED)
# A pot that is banked to its rim stays near zero through a week of hard nights (estimate from a model of the pot). [°C]
BANKED_LEAST_C = -2.0
SPELL_HOURS = 72.0


@dataclass(frozen=True)
class Winter:
    """
    A tree in the coming winter, or in what is left of this one.

    limit_c: root zone, or air for tender kinds, below which it is harmed. [°C]; coldest_c: what a cold spell may bring
    to it in the open in what is left of the winter. [°C]; by: first day on which that comes near the limit, which may
    be past. what: is harmed, a clause. top_lack_k: by how much the coldest night lies below what leaves or buds of a
    tree bear whose roots decide. [K] banks: there is something to bank its pot with.
    """

    prospect: Prospect
    limit_c: float
    coldest_c: float
    by: date
    what: str
    top_lack_k: float = 0.0
    banks: bool = True

    @property
    def lack_k(self) -> float:
        """By how much the coldest lies below the limit. [K]"""
        return max(self.limit_c - self.coldest_c, self.top_lack_k)

    @property
    def wants_roof(self) -> bool:
        """A banked pot is not enough for it: roots that bear too little, or leaves and buds that no bank covers."""
        return not self.banks or self.limit_c >= BANKED_LEAST_C or self.top_lack_k > 0.0

    @property
    def stake_k(self) -> float:
        """What it lacks with the best that is done without a roof: a bank holds roots that bear a little frost. [K]"""
        banked = self.banks and self.wants_roof and self.limit_c < BANKED_LEAST_C
        return self.top_lack_k if banked else self.lack_k


def winter_plan(
    found: Sequence[Prospect], garden: Garden, outside: Outside, numbers: TaskNumbers
) -> Iterator[tuple[Prospect, Draft]]:
    """
    Where each tree that needs quarters winters, and by when it has to be there.

    outside: of the open air on the days of the prospects.
    Room is given first to trees for which a banked pot is not enough, among them to the one that lacks most, weighed by
    its worth; who finds none is banked, or wrapped where there is nothing to bank it with. Leaves do not winter in the
    dark, but the coldest nights pass in there: room in a shed that they will want then is not given away for the
    winter. Whom a measure in force has brought under a roof gets no order before that is over, nor a layer that stays
    where it was brought (`spring.stays_in`).
    """
    taken = dict.fromkeys(garden.places, 0)
    for prospect in found:
        taken[stands_at(prospect.tree, prospect.log)] = taken.get(stands_at(prospect.tree, prospect.log), 0) + 1
    winters = [
        winter
        for prospect in found
        if not _is_carried(prospect, garden.places)
        and stays_in(prospect, garden.places, numbers) is None
        and (winter := _winter(prospect, outside, garden.stock, numbers)) is not None
        and not _good_where_it_is(winter, garden, outside)
    ]
    for winter in sorted(winters, key=_most_in_need):
        place = _quarters(winter, garden, outside, taken)
        if place is None and _is_sheltered(winter.prospect, garden.places):
            # It stands in a shed or frame already, and there is nothing better: nobody banks a pot in there.
            continue
        refuge = place
        if place is None and winter.top_lack_k > 0.0:
            refuge = _quarters(winter, garden, outside, taken, FOR_LEAFLESS)
        if refuge is not None:
            taken[refuge.id] += 1
        yield winter.prospect, _into(winter, place, refuge, garden.stock, outside.rests_on, numbers)


def _most_in_need(winter: Winter) -> tuple[bool, float, str]:
    tree = winter.prospect.tree
    return not winter.wants_roof, -winter.stake_k * tree.worth, tree.id


def _is_carried(prospect: Prospect, places: Mapping[str, Place]) -> bool:
    """Whether a measure that is in force has brought it under the roof where it stands."""
    begun = in_force(prospect.log, prospect.tree.id)
    return any(name.startswith(MOVE) for name in begun) and _is_sheltered(prospect, places)


def _winter(prospect: Prospect, outside: Outside, stock: Stock, numbers: TaskNumbers) -> Winter | None:
    """The coming winter of a tree, or None if where it lives is good enough, or it is there already."""
    season, index = prospect.lived.season, prospect.index(prospect.today)
    low = season.height < EQUINOX
    span = stretch_from(low, index)
    if span is None:
        return None
    start, stop = span
    rest = max(index, start)
    species = prospect.tree.species
    middle = prospect.on(prospect.day(max(rest, (start + stop) // 2)))
    tender = is_tender(species)
    least_c = outside.least_c[start:stop]
    if tender:
        limit_c = tender_night_c(species)
        what = "it is harmed by cold" if limit_c > 0.0 else "its leaves are harmed"
        least_c = least_c - numbers.night_below_mean_k
    elif middle.young_roots > HARDLY_ANY:
        limit_c, what = species.root_young_c[0], "its young roots are harmed"
    else:
        limit_c, what = mature_root_frost_c(species, middle.roots_hardened)[0], "its roots are harmed"
    coldest_c = float(least_c[rest - start :].min())
    top_c = species.frost_c["winter-hard" if species.evergreen else "dormant"][0]
    top_lack_k = 0.0 if tender else max(0.0, top_c - (coldest_c - numbers.night_below_mean_k))
    if coldest_c >= limit_c and top_lack_k > 0.0:
        # Roots are well where it stands; leaves or buds are not.
        least_c, coldest_c = least_c - numbers.night_below_mean_k, coldest_c - numbers.night_below_mean_k
        limit_c, what = top_c, f"its {'leaves' if species.evergreen else 'buds'} are harmed"
    near = np.flatnonzero(least_c < limit_c + numbers.winter_margin_k)
    if not near.size or coldest_c >= limit_c:
        return None
    return Winter(prospect, limit_c, coldest_c, prospect.day(start + int(near[0])), what, top_lack_k, stock.mulch)


def _good_where_it_is(winter: Winter, garden: Garden, outside: Outside) -> bool:
    """Whether a tree stands in quarters already that are warm enough for it."""
    place = garden.places.get(stands_at(winter.prospect.tree, winter.prospect.log))
    if place is None or not place.enclosed:
        return False
    return _least_inside_c(place, outside, garden.site.latitude, winter) >= winter.limit_c


def _is_sheltered(prospect: Prospect, places: Mapping[str, Place]) -> bool:
    place = places.get(stands_at(prospect.tree, prospect.log))
    return place is not None and place.enclosed


def _quarters(
    winter: Winter,
    garden: Garden,
    outside: Outside,
    taken: Mapping[str, int],
    refuges: Sequence[str] = (),
) -> Place | None:
    """
    The first quarters in the order of choice that have room and are warm enough; None: there are none.

    refuges: kinds of places to look at instead of those that suit it all winter.
    """
    tree = winter.prospect.tree
    if tree.fixed:
        return None
    tender = is_tender(tree.species)
    for kind in refuges or kinds_for(tree.species):
        for place in garden.places.values():
            if place.kind != kind or (place.heated_to_c is not None and not tender):
                continue
            has_room = place.room is None or taken.get(place.id, 0) < place.room
            if has_room and _least_inside_c(place, outside, garden.site.latitude, winter) >= winter.limit_c:
                return place
    return None


def _least_inside_c(place: Place, outside: Outside, latitude: float, winter: Winter) -> float:
    """The coldest that a cold spell of the winter may bring inside. [°C]"""
    usual = enclosed_mean_c(outside.mean_c, outside.days, place, latitude)
    follows = (1.0 - place.ground_share) * (1.0 - float(np.exp(-SPELL_HOURS / max(place.damping_h, 1e-6))))
    season = slice(winter.prospect.index(winter.prospect.today), None)
    least = float((usual[season] - follows * outside.spell_k).min())
    return least if place.heated_to_c is None else max(least, place.heated_to_c)


def _into(
    winter: Winter, place: Place | None, refuge: Place | None, stock: Stock, rests_on: str, numbers: TaskNumbers
) -> Draft:
    """
    Into its place by its date, or banked where there is none, or wrapped where there is nothing to bank it with.

    refuge: where there is room for it in the coldest nights. stock: what there is; nothing else is ordered.
    rests_on: said of what the date rests on.
    """
    prospect, by = winter.prospect, winter.by
    tree = prospect.tree
    asleep = None
    if not tree.species.evergreen:
        near = max(prospect.today, by - timedelta(days=2 * numbers.winter_open_days))
        asleep = prospect.first_of(prospect.stage.phases == DORMANT, near)
    latest = by - timedelta(days=numbers.winter_least_days)
    first = by - timedelta(days=numbers.winter_open_days) if asleep is None else min(asleep, latest)
    degrees, coldest = (
        f"{round(value * 2) / 2:g} °C".replace("-", "−") for value in (winter.limit_c, winter.coldest_c)
    )
    reason = f"From {degrees} on {winter.what}; where it stands a cold spell goes down to about {coldest}."
    if place is None:
        about = BANK if stock.mulch else WRAP
        reason += f" {_outside(winter, refuge, stock)}"
    else:
        about = place.id
        reason += f" Into {place.id}" + (", once, level and tied." if prospect.now.layer else ".")
    asleep_said = "" if asleep is None or asleep > by else f" Its leaves are down about {day_of(asleep)}."
    reason += f" {rests_on}" if rests_on else ""
    carry = "Carry it asleep," if asleep and asleep > prospect.today else "Carry it"
    how = carry if place is not None else "Bank it" if about == BANK else "Wrap it"
    moves = (
        f"The first hard nights move it: from {day_of(by)} on a cold spell can reach its limit.{asleep_said} {how} "
        "with a moist root ball, before it freezes."
    )
    done = _covered_on(prospect, BANKED if stock.mulch else WRAPPED) if place is None else None
    return Draft("winter-place", first, first, by, reason, moves, numbers.sources["winter"], about, done)


def _outside(winter: Winter, refuge: Place | None, stock: Stock) -> str:
    """What is done for a tree for which there is no place, with what there is, and whether that is enough."""
    tree = winter.prospect.tree
    why = "It is fixed" if tree.fixed else "No quarters in the garden have room for it and are warm enough"
    low = winter.limit_c < BANKED_LEAST_C
    if stock.mulch:
        enough = ", mulch it, and leave snow on it." if low else "; that may not be enough for it."
        said = f"{why}: bank it to the rim with bark or soil{enough}"
    else:
        enough = WRAP_HOLDS if low else "Nothing at hand is enough for it: find it a place under a roof."
        said = f"{why}, and there is nothing to bank it with: wrap its pot. {enough}"
    if winter.top_lack_k <= 0.0:
        return said
    organ = "leaves" if tree.species.evergreen else "buds"
    nights = "cover them as well" if stock.fleece_m2 > 0.0 else "nothing at hand covers them"
    if refuge is not None:
        nights = f"for those there is room for it in {refuge.id}"
    return f"{said} Its {organ} do not bear the coldest nights: {nights}."


def _covered_on(prospect: Prospect, covers: Sequence[str]) -> date | None:
    """Since when its pot has one of these covers, by the log; for good ones today."""
    if any(name in covers for name in prospect.tree.measures):
        return prospect.today
    begun = in_force(prospect.log, prospect.tree.id)
    return next((begun[name].at.date() for name in covers if name in begun), None)


def stretch_from(marked: Flags, index: int) -> tuple[int, int] | None:
    """First and past-the-last position of the stretch of marked days around a position, or of the next one."""
    found = np.flatnonzero(marked[index:])
    if not found.size:
        return None
    start = index + int(found[0])
    before = np.flatnonzero(~marked[:start])
    after = np.flatnonzero(~marked[start:])
    return int(before[-1]) + 1 if before.size else 0, start + int(after[0]) if after.size else marked.size
