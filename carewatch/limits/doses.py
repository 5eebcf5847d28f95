"""The numbers of hazards that belong to no species: doses, organ weights, handling harm; read from hazards.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from carewatch.care.species import Doses


@dataclass(frozen=True)
class HazardNumbers:
    """
    hazards.toml as one value.

    heat_slope_k: fall of the leaf's heat limit per tenfold duration. [K]
    root_heat_50_c: root-zone temperature of 50 % damage at `root_heat_ref_h`; root_heat_slope_k: fall per tenfold
    duration; root_heat_10_shift_k: from the 50 % to the 10 % dose; root_heat_young_shift_k: for young roots. [°C],
    [K], [h]
    wet_frost_shift_k: rise of the frost limit of wet or hoary soft tissue. [K]
    tear_gust_ms: gusts that tear new leaf. [m s⁻¹]
    rock_50_factor: ratio of the 50 % gust to the 10 % gust when roots rock. [-]
    gust_intact_ms: rocking gusts of a firmly rooted tree. [m s⁻¹]
    topple_ratio: overturning over restoring moment for 10 % and 50 % chance of falling. [-]
    topple_damage: share of the crown and root ball broken by a fall. [0-1]
    soak_leaf_h, soak_dormant_h: hours without air at 20 °C. [h]; soak_cut_factor: on cut roots; soak_q10: per 10 K. [-]
    soak_50_factor: ratio of the 50 % to the 10 % dose. [-]
    organ_weight: loss by losing all of an organ, by key such as "leaf.flush". [0-1]
    roots_spare: share of roots an intact tree can lose. [0-1]
    carry_harm_tied, carry_harm_untied: share of young roots lost per carry at no anchorage. [0-1]
    uptake_c: (root temperature, uptake) points. [°C], [0-1]
    supply_cap_mmol: water that intact warm roots bring to a full crown, per leaf area. [mmol m⁻² s⁻¹]
    sources: citation of each group of numbers, for `explain`.
    """

    heat_slope_k: float
    root_heat_50_c: float
    root_heat_ref_h: float
    root_heat_slope_k: float
    root_heat_10_shift_k: float
    root_heat_young_shift_k: float
    wet_frost_shift_k: float
    tear_gust_ms: Doses
    rock_50_factor: float
    gust_intact_ms: float
    topple_ratio: Doses
    topple_damage: float
    soak_leaf_h: float
    soak_dormant_h: float
    soak_cut_factor: float
    soak_q10: float
    soak_50_factor: float
    organ_weight: Mapping[str, float]
    roots_spare: float
    carry_harm_tied: float
    carry_harm_untied: float
    uptake_c: tuple[tuple[float, float], ...]
    supply_cap_mmol: float
    sources: Mapping[str, str]
