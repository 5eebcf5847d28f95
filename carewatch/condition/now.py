"""What each tree is now: the fold of its care log and the weather since, in one frozen value per tree."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import inf, isfinite

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.care.whole_log import ended_by, seen_dead
from carewatch.condition.cold_carried import cold_carried_kh
from carewatch.condition.dark_carried import dark_days
from carewatch.condition.frost_to_come import frost_to_come_c
from carewatch.condition.hardiness import hardiness, root_hardiness
from carewatch.condition.leaf_area import leaf_area, lost
from carewatch.condition.lived import Lived, Past
from carewatch.condition.numbers import ConditionNumbers, RecoveryNumbers
from carewatch.condition.recovery import Opened, corrected, effect_of, opened_by, root_theta
from carewatch.condition.stage import PHASES, Stage, stage_names, stage_of
from carewatch.condition.wounds import NO_WOUNDS, Wounds, bark_exposure, wounds_of
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.record import UNFINISHED_DAYS, YEAR_DAYS

# Stages of soft new leaves, and those without any.
SOFT = ("flush", "new-tips")
BARE = ("dormant", "bud-swell", "leafless")
AS_LIKELY_AS_NOT = 0.5


@dataclass(frozen=True)
class Condition:
    """
    One tree as it is at one moment.

    place: where it stands now; stage, stage_basis: name and where it comes from.
    chances: names of the stages that it may be in and how likely each is; works can put `stage` outside of them. [0-1]
    waking: how far buds are from rest (0) over swelling (1) to leaf-out (2).
    hardened, roots_hardened: 0 as in growth or October, 1 as in midwinter, above ground and of mature roots. [0-1]
    leaf_area: share of the full crown in leaf. root_supply, anchorage, young_roots: [0-1]
    tied: ties hold it; held: anchorage with ties.
    second_flush: new leaves after stripping are still tender.
    layer: a severed layer in its first year.
    sun_limit_kwh: direct sun that works allow, or None. [kWh m⁻² d⁻¹]
    gust_limit_ms, gust_limit_tied_ms: gust at which roots rock, as it stands and with ties. [m s⁻¹]; soak_hours:
    without air at 20 °C, or None for the species'. [h]
    heat_shift_k, frost_shift_k: shifts of leaf heat and wood frost limits by works. [K]
    measures: names in force for good, from the garden file; begun: those that the log says began and did not end.
    opened: the works behind it, for `explain`.
    wounds: fresh cuts; bark_exposure: share of the stem's sunny face that shade has left lately. [0-1]
    cold_kh: degree-hours below 10 °C that a tender kind's leaves carry from the nights before, 0 for others. [°C·h]
    forces: share of a day's warmth that moves its buds now. [0-1]; frost_to_come_c: air of the coldest night that the
    climate still has in store, inf where that is not known. [°C]
    dark_d: days in the dark behind it, less what days in the light made good. [d]
    unburnt: share of its leaves that is not among those seen burnt or dried, or has grown again. [0-1]
    dead: it was seen dead, and nothing can be lost of it any more.
    """

    tree: Tree
    place: str
    stage: str
    stage_basis: str
    chances: Mapping[str, float]
    waking: float
    hardened: float
    roots_hardened: float
    in_leaf: bool
    leaf_area: float
    root_supply: float
    anchorage: float
    held: float
    young_roots: float
    tied: bool
    second_flush: bool
    layer: bool
    sun_limit_kwh: float | None
    gust_limit_ms: float
    gust_limit_tied_ms: float
    soak_hours: float | None
    heat_shift_k: float
    frost_shift_k: float
    measures: tuple[str, ...]
    begun: tuple[str, ...]
    opened: tuple[Opened, ...]
    wounds: Wounds = NO_WOUNDS
    bark_exposure: float = 0.0
    cold_kh: float = 0.0
    forces: float = 0.0
    frost_to_come_c: float = inf
    dark_d: float = 0.0
    unburnt: float = 1.0
    dead: bool = False

    @property
    def soft(self) -> float:
        """How likely its leaves, if it has any, are still as soft as in flush. [0-1]"""
        if self.second_flush or self.stage not in self.chances:
            return float(self.second_flush or self.stage in SOFT)
        leafy = sum(chance for name, chance in self.chances.items() if name not in BARE)
        return sum(self.chances.get(name, 0.0) for name in SOFT) / leafy if self.in_leaf and leafy > 0.0 else 0.0

    @property
    def tender(self) -> float:
        """
        How far its leaves lose water as soft ones do: in full while they are as likely as not, slowly less from there.

        Leaves ripen over weeks and the model misses by one: on the day of its date nothing happens to a tree (the safe
        side is judged; a tenth of what soft leaves lose can decide a hot day). [0-1]
        """
        return 1.0 - max(0.0, 1.0 - self.soft / AS_LIKELY_AS_NOT) ** 2


def oldest_work(log: Sequence[Entry], today: date) -> date:
    """
    First day that a condition must know of: the earlier of one year ago and the oldest entry of the log.

    At most as far back as works can be unfinished; an older one counts as if it had been done on that day.
    """
    first = min((entry.at.date() for entry in log), default=today)
    bounded = max(first, today - timedelta(days=UNFINISHED_DAYS))
    return min(bounded, today - timedelta(days=YEAR_DAYS))


def conditions(
    garden: Garden, numbers: ConditionNumbers, history: DailyHistory, now: datetime
) -> tuple[Condition, ...]:
    """
    Condition of every tree of the garden at `now`, in the garden's order.

    Entries after `now` are not known yet.
    """
    known = [entry for entry in garden.log if entry.at <= now]
    past = Past(history, garden.places, garden.site.latitude)
    to_come_c = frost_to_come_c(history)
    # Trees of one species that lived in the same air and of which the same was seen share their seasons.
    shared: dict[tuple[object, ...], Stage] = {}
    found = []
    for tree in garden.trees:
        log = sorted((entry for entry in known if entry.tree == tree.id), key=_when)
        lived = past.lived_by(tree.place, log)
        seen = tuple((entry.at.date(), entry.seen) for entry in log if entry.work == "observe")
        key = (tree.species.name, tree.species.found_by, id(lived), seen)
        if key not in shared:
            shared[key] = stage_of(tree.species, lived, log)
        state = condition_of(tree, log, numbers, lived, shared[key])
        dark = dark_days(state.stage, state.in_leaf, tree, log, garden.places, lived, now)
        found.append(replace(state, frost_to_come_c=to_come_c, dark_d=dark))
    return tuple(found)


def _when(entry: Entry) -> datetime:
    return entry.at


def condition_of(
    tree: Tree,
    log: Sequence[Entry],
    numbers: ConditionNumbers,
    lived: Lived,
    stage: Stage,
) -> Condition:
    """Condition of one tree on the last day of its past, from its own entries, oldest first."""
    species, recovery = tree.species, numbers.recovery
    thetas = root_theta(lived, stage, species, recovery)
    opened = []
    for entry in log:
        effect = effect_of(entry, numbers.works, species.leaf_class == "needle")
        if effect is not None:
            opened.append(opened_by(entry, effect, lived, stage, species, log, thetas, recovery))
    opened = corrected(opened, log, lived, stage, species, thetas, numbers.leaves)
    supply = anchorage = 1.0
    for work in opened:
        supply *= work.root_supply
        anchorage *= work.anchorage
    lost_leaves = lost(species, lived, stage, log, numbers.works["defoliate.full"], numbers.leaf_area)
    young = max((work.young_roots for work in opened), default=0.0)
    tied = _tied(log)
    in_leaf = species.evergreen or stage.today not in ("dormant", "bud-swell")
    shares = [lost_leaves.share, *(work.leaf_area for work in opened)]
    area = leaf_area(species, stage, shares, numbers.leaf_area)
    second = lost_leaves.tender or any(work.second_flush for work in opened)
    dead = seen_dead(log)
    name = stage.today
    if in_leaf and not species.evergreen and area < numbers.leaf_area.bare_below:
        name = "leafless"
    elif second and name == "mature-leaf":
        name = "flush"
    return Condition(
        tree=tree,
        place=_place(tree, log),
        stage=name,
        stage_basis=stage.basis if dead is None else f"of a living one; seen dead on {dead.at.date()}",
        chances=_named(stage, stage_names(species)),
        waking=float(stage.waking[-1]),
        hardened=hardiness(species, lived, stage, numbers.hardening),
        roots_hardened=root_hardiness(lived, log, numbers.hardening),
        in_leaf=in_leaf and area > 0.0,
        leaf_area=area,
        root_supply=supply,
        anchorage=anchorage,
        held=max(anchorage, recovery.tied_anchorage) if tied else anchorage,
        young_roots=young,
        tied=tied,
        second_flush=second,
        layer=any(work.effect.severed and work.days <= recovery.layer_still_days for work in opened),
        sun_limit_kwh=_sun_limit(opened, recovery),
        gust_limit_ms=_gust_limit(opened, tied, numbers.gust_intact_ms, recovery.healed),
        gust_limit_tied_ms=_gust_limit(opened, True, numbers.gust_intact_ms, recovery.healed),
        soak_hours=_soak_hours(opened, recovery.supply_restored),
        heat_shift_k=min(
            (
                work.effect.leaf_heat_shift_k
                for work in opened
                if work.root_supply < recovery.supply_restored or work.second_flush
            ),
            default=0.0,
        ),
        frost_shift_k=max((w.effect.frost_shift_k for w in opened if w.days <= w.effect.frost_shift_days), default=0.0),
        measures=tree.measures,
        begun=_begun(log),
        opened=tuple(opened),
        wounds=wounds_of(log, lived, numbers.wounds, 1.0 - numbers.works["hard-prune"].leaf_area),
        bark_exposure=bark_exposure(opened, lived, stage, numbers.wounds),
        cold_kh=cold_carried_kh(lived) if isfinite(species.chill_kh[0]) else 0.0,
        forces=stage.forces,
        unburnt=lost_leaves.unburnt,
        dead=dead is not None,
    )


def _named(stage: Stage, names: Mapping[str, str]) -> dict[str, float]:
    """Chance of each named stage; phases that share a name add up."""
    found: dict[str, float] = {}
    for phase, chance in zip(PHASES, stage.chances, strict=True):
        found[names[phase]] = found.get(names[phase], 0.0) + chance
    return found


def _place(tree: Tree, log: Sequence[Entry]) -> str:
    moves = [entry.to for entry in log if entry.work == "move" and entry.to is not None]
    return moves[-1] if moves else tree.place


def _tied(log: Sequence[Entry]) -> bool:
    tied = False
    for entry in log:
        if entry.work == "tie-down" or entry.tied:
            tied = True
        if entry.work == "untie":
            tied = False
    return tied


def _begun(log: Sequence[Entry]) -> tuple[str, ...]:
    names: list[str] = []
    for entry in log:
        if entry.work == "begin" and entry.measure and entry.measure not in names:
            names.append(entry.measure)
        for name in ended_by(entry, names):
            names.remove(name)
    return tuple(names)


def _sun_limit(opened: Sequence[Opened], numbers: RecoveryNumbers) -> float | None:
    """The strictest limit of direct sun that a work still sets. [kWh m⁻² d⁻¹]"""
    limits = []
    for work in opened:
        early = work.days < numbers.first_weeks_days
        recovered = work.root_supply >= numbers.supply_restored and not work.second_flush
        limit = work.effect.sun_first_kwh if early else work.effect.sun_later_kwh
        if limit is not None and (early or not recovered):
            limits.append(limit)
    return min(limits, default=None)


def _gust_limit(opened: Sequence[Opened], tied: bool, intact_ms: float, healed: float) -> float:
    """Gust at the plant at which its roots begin to rock: from the work's value back to the intact one. [m s⁻¹]"""
    limits = [intact_ms]
    for work in opened:
        base = work.effect.gust_tied_ms if tied else work.effect.gust_untied_ms
        if base is not None:
            limits.append(base + (intact_ms - base) * _healed(work, healed))
    return min(limits)


def _healed(work: Opened, healed: float) -> float:
    """
    How far a work's gust limit has come back to the intact one. [0-1]

    By the cube of the hold, so that of two layers held back by one calendar cap the better rooted bears more
    (estimate); a work that loosens no root (graft, bend) heals with what it carries.
    """
    if work.effect.anchorage < healed:
        start, now, power = work.effect.anchorage, work.anchorage, 3
    else:
        start, now, power = work.effect.root_supply, work.root_supply, 1
    if start >= healed:
        return 1.0
    return min(1.0, max(0.0, (now**power - start**power) / (healed**power - start**power)))


def _soak_hours(opened: Sequence[Opened], restored: float) -> float | None:
    """Hours without air that cut roots bear, while they are not healed. [h]"""
    limits = [
        work.effect.soak_hours_20c
        for work in opened
        if work.effect.soak_hours_20c is not None and (work.root_supply < restored or work.leaf_area < restored)
    ]
    return min(limits, default=None)
