"""What a kind of tree can stand and how its year runs: one frozen value per species, read from the tables."""

from collections.abc import Mapping
from dataclasses import dataclass

# A pair of doses: the one of 10 % damage (shown as the limit) and the one of 50 %.
Doses = tuple[float, float]

DECIDUOUS_STAGES = ("dormant", "bud-swell", "flush", "mature-leaf", "colouring", "leafless")
EVERGREEN_STAGES = ("winter-hard", "new-tips", "summer", "hardening")


@dataclass(frozen=True)
class Species:
    """
    One row of species.toml, complete.

    name: the row that was found; asked_for: what the garden file says; found_by: "species", "genus" or "class".
    leaf_class: "broadleaf" or "needle"; evergreen: keeps leaves in winter.
    frost_c: per stage, tissue temperatures of 10 % and 50 % damage. [°C]
    root_young_c, root_october_c, root_midwinter_c: root-zone temperatures of 10 % and 50 % damage. [°C]
    leaf_heat_4h_c: leaf temperatures over four hours. [°C]
    sun_kwh: direct sun of an intact plant in full leaf; sun_step_kwh: step above habit. [kWh m⁻² d⁻¹]
    chill_kh: degree-hours below 10 °C of 10 % and 50 % damage to the leaves; infinite where cold above zero does no
    harm. [°C·h]
    leaf_width_cm: typical width of leaf, leaflet or needle. [cm]
    leaf_water_gm2: water in a turgid leaf per one-sided area. [g m⁻²]
    stomatal_mol: stomatal conductance of a well supplied leaf in the sun, per one-sided area. [mol m⁻² s⁻¹]
    closed_mol: conductance that remains with closed stomata, mature leaf; closed_flush_mol: in flush. [mol m⁻² s⁻¹]
    water_loss_mature, water_loss_flush: share of the leaf's water lost at 10 % and 50 % damage. [0-1]
    root_base_c: root-zone temperature below which nothing recovers. [°C]
    chill_portions: winter chill after which buds answer to warmth in full, 0: none needed (Dynamic Model). [-]
    chill_cost: exponent by which they answer less without any chill: exp(-chill_cost). [-]
    forcing_base_c: daily mean above which buds advance. [°C]
    bud_swell_gdd, leaf_out_gdd: thermal time above that base since midwinter, after full chill. [°C d]
    flush_gdd: thermal time above 0 °C from leaf-out to mature leaf. [°C d]
    colouring_day_length_h: day length below which cold ripens the leaf; colouring_sum, leaf_fall_sum: sums of the
    senescence model at which colouring begins and leaves have fallen. [h], [-]
    sources: citation of each group of numbers, for `explain`.
    """

    name: str
    asked_for: str
    found_by: str
    leaf_class: str
    evergreen: bool
    frost_c: Mapping[str, Doses]
    root_young_c: Doses
    root_october_c: Doses
    root_midwinter_c: Doses
    leaf_heat_4h_c: Doses
    sun_kwh: float
    sun_step_kwh: Doses
    chill_kh: Doses
    leaf_width_cm: float
    leaf_water_gm2: float
    stomatal_mol: float
    closed_mol: float
    closed_flush_mol: float
    water_loss_mature: Doses
    water_loss_flush: Doses
    root_base_c: float
    chill_portions: float
    chill_cost: float
    forcing_base_c: float
    bud_swell_gdd: float
    leaf_out_gdd: float
    flush_gdd: float
    colouring_day_length_h: float
    colouring_sum: float
    leaf_fall_sum: float
    sources: Mapping[str, str]
