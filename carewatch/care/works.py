"""What a work opens: one frozen value per work and way it went, read from works.toml."""

from dataclasses import dataclass


@dataclass(frozen=True)
class WorkEffect:
    """
    Deficits that a work opens on its day, and how they close.

    name: the row, such as "sever-layer.sparse.worked" or "root-prune.third".
    root_supply: share of the root function left. [0-1]; supply_theta, supply_shape: Θr and k of its recovery. [°C d],
    [-]
    anchorage: hold of the roots in the pot. [0-1]; anchor_theta: its Θr (shape 2). [°C d]
    anchor_caps: (days since the work, highest anchorage before that day) pairs.
    young_roots: share of the roots that are young at the work; young_roots_peak: highest share reached as new roots
    grow; young_roots_peak_days: when that is. [0-1], [0-1], [d]
    leaf_area: share of the crown's leaves left; leaf_regrow_start, leaf_regrow_full: thermal time above 5 °C at which
    regrowth starts and at which nine tenths are back. [0-1], [°C d]
    second_flush_days: days for which the new leaves are as tender as flush. [d]
    sun_first_kwh: direct sun borne in the first three weeks; sun_later_kwh: until supply is .7; None: no limit by the
    work. [kWh m⁻² d⁻¹]
    gust_untied_ms, gust_tied_ms: gust at the plant at which weak roots begin to rock. [m s⁻¹]
    soak_hours_20c: hours without air space at 20 °C for 10 % damage. [h]
    leaf_heat_shift_k: shift of the leaf's heat limit until supply is .7. [K]
    frost_shift_k: rise of the frost limit of wood and buds for `frost_shift_days`. [K], [d]
    severed: the tree is a layer in its first year: organ weights of a fresh layer, protected in place.
    source: where the numbers come from.
    """

    name: str
    root_supply: float
    supply_theta: float
    supply_shape: float
    anchorage: float
    anchor_theta: float
    anchor_caps: tuple[tuple[int, float], ...]
    young_roots: float
    young_roots_peak: float
    young_roots_peak_days: float
    leaf_area: float
    leaf_regrow_start: float
    leaf_regrow_full: float
    second_flush_days: int
    sun_first_kwh: float | None
    sun_later_kwh: float | None
    gust_untied_ms: float | None
    gust_tied_ms: float | None
    soak_hours_20c: float | None
    leaf_heat_shift_k: float
    frost_shift_k: float
    frost_shift_days: int
    severed: bool
    source: str
