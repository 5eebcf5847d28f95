"""The numbers by which a tree's condition is told: frozen values, read from condition.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from carewatch.care.works import WorkEffect


@dataclass(frozen=True)
class LeafNumbers:
    """
    What leaves say of roots, and when the grower is asked about them.

    firm_factor, hanging_factor, still_hanging_factor: what roots bring against what the table had. [-]
    dawn_until_h: leaves that hang before this hour have not come up in the night. [h]
    roots_suffice: supply from which on hanging leaves want water and not roots. [0-1]
    third_day, asked_until_day: days after the work from and until which it is asked. [d]
    hot_c: highest air of a hot day. [°C]; hot_for_days: after it, in which it is asked. [d]
    least_leaf: share of the crown below which leaves tell nothing. [0-1]
    source: where they come from.
    """

    firm_factor: float
    hanging_factor: float
    still_hanging_factor: float
    dawn_until_h: int
    roots_suffice: float
    third_day: int
    asked_until_day: int
    hot_c: float
    hot_for_days: int
    least_leaf: float
    source: str


@dataclass(frozen=True)
class WoundNumbers:
    """
    What makes a wound fresh, and bark bare.

    freshest_days, fresh_days: after a cut, in which frost harms its rim in full, and at all. [d]
    least_cut: the least that a cut opens, against taking the whole crown. [0-1]
    sets_from_c, sets_soon_c: daily mean from which paste sets at all, and soon. [°C]; sets_days, sets_soon_days: until
    it has set. [d]
    bares_factor: share of the stem's sunny face laid bare by a share of the crown taken away. [-]
    bark_theta, bark_days: thermal time in growth, or days, after which bark is used to the sun. [°C d], [d]
    """

    freshest_days: int
    fresh_days: int
    least_cut: float
    sets_from_c: float
    sets_soon_c: float
    sets_days: int
    sets_soon_days: int
    bares_factor: float
    bark_theta: float
    bark_days: int


@dataclass(frozen=True)
class RecoveryNumbers:
    """
    How what works opened is borne and closes.

    tied_anchorage: hold of a tied tree, whatever its roots do. healed: hold or supply from which on a work no longer
    lowers what gusts are borne. supply_restored: root supply at which the limits of a work end. [0-1]
    first_weeks_days: of the strictest limit of sun. layer_still_days: for which a severed layer stands still
    and counts as fresh, from seasons.toml. [d]
    warmest_useful_c: root zone above which roots gain nothing more. [°C]; young_theta: in which young roots ripen to
    1/e. [°C d]
    """

    tied_anchorage: float
    healed: float
    supply_restored: float
    first_weeks_days: int
    layer_still_days: int
    warmest_useful_c: float
    young_theta: float


@dataclass(frozen=True)
class LeafAreaNumbers:
    """
    What is worn of the crown.

    flush_area, colouring_area: share of the crown in these phases. bare_below: share under which a deciduous tree in
    season is leafless. scorched_left: what works on where leaves were seen burnt and no share was given. [0-1]
    """

    flush_area: float
    colouring_area: float
    bare_below: float
    scorched_left: float


@dataclass(frozen=True)
class HardeningNumbers:
    """
    How trees harden and soften.

    by_day_length: share that short days bring alone. [-]; release_h: day length on either side of the species' own over
    which it is released. [h]
    shoot_cold_c, root_cold_c: running warmth at which cold hardens not at all, and fully. [°C]
    shoot_days, root_days: lags of hardening and of softening. [d]
    evergreen_at_swell: share that evergreen leaves still have when buds swell. [0-1]
    roots_harden_by: share of their hardening that roots reach for `unfed_days` after a work. [0-1], [d]
    """

    by_day_length: float
    release_h: float
    shoot_cold_c: tuple[float, float]
    root_cold_c: tuple[float, float]
    shoot_days: tuple[float, float]
    root_days: tuple[float, float]
    evergreen_at_swell: float
    unfed_days: int
    roots_harden_by: Mapping[str, float]


@dataclass(frozen=True)
class ConditionNumbers:
    """
    Everything that the fold of log and weather reads.

    works: rows of works.toml by name.
    gust_intact_ms: what firm roots bear, from hazards.toml. [m s⁻¹]
    sources: of the groups of condition.toml.
    """

    works: Mapping[str, WorkEffect]
    gust_intact_ms: float
    leaves: LeafNumbers
    wounds: WoundNumbers
    recovery: RecoveryNumbers
    leaf_area: LeafAreaNumbers
    hardening: HardeningNumbers
    sources: Mapping[str, str]
