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
    wound_frost_c: frost on a fresh cut in growing wood. [°C]; wound_hardy_share: share of hardened wood's own limit
    that its fresh rim bears. [0-1]; wound_pasted: share of the rim that is still at stake under paste. [0-1]
    chill_below_c: cold counts below this. [°C]; chill_mends_h: warm hours in which all but 1/e is made good. [h]
    heave_anchorage: hold below which night ice lifts a tree; heave_hold: hold that each freeze costs; heave_torn: share
    of the roots that lose their hold which tear; heave_water_left: share of water above which ice lifts. [0-1]
    bark_heat_c: hottest hour of bark that shade has left; bark_refreeze_c: coldest hour after a thaw; bark_thaws_c:
    what counts as one. [°C]; bark_face: share of the stem's bark that faces the sun. [0-1]
    forcing_least: share of the way to leaf-out that warmth must gain over outside to count. [0-1]
    dark_leaf_d, dark_resting_d: days in the dark that leaves, and resting evergreens below 5 °C, bear. [d]
    damp_h: wet hours in still air, as at 20 °C. [h]; damp_resting_factor: how many times that leaves at rest bear. [-]
    load_leaf_mm, load_firm_mm: snow, as water, on soft leaf or weak branches, and on others. [mm]; load_ice_mm: ice
    round the twigs that breaks like load_firm_mm's first dose. [mm]; load_breaks: what breaks of a tree. [0-1]
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
    wound_frost_c: Doses
    wound_hardy_share: float
    wound_pasted: float
    chill_below_c: float
    chill_mends_h: float
    heave_anchorage: float
    heave_hold: float
    heave_torn: float
    heave_water_left: float
    bark_heat_c: Doses
    bark_refreeze_c: Doses
    bark_thaws_c: float
    bark_face: float
    forcing_least: float
    dark_leaf_d: Doses
    dark_resting_d: Doses
    damp_h: Doses
    damp_resting_factor: float
    load_leaf_mm: Doses
    load_firm_mm: Doses
    load_ice_mm: float
    load_breaks: float
    organ_weight: Mapping[str, float]
    roots_spare: float
    carry_harm_tied: float
    carry_harm_untied: float
    uptake_c: tuple[tuple[float, float], ...]
    supply_cap_mmol: float
    sources: Mapping[str, str]
