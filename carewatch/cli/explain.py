"""`explain`: every number behind a warning, from the forecast's air temperature to the loss, each with its source."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.assess import Assessment, Detail, TreeOutlook
from carewatch.cli.documents import (
    DOCUMENT_VERSION,
    ForecastDocument,
    SiteDocument,
    TreeDocument,
    finite,
    forecast_document,
    site_document,
    stamp,
    tree_document,
)
from carewatch.cli.hazard_steps import Step, hazard_steps, limit_source
from carewatch.cli.recovery_documents import RecoveryDocument
from carewatch.condition.leaves import credited
from carewatch.condition.now import Condition
from carewatch.forecast.weather import Array
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import HAZARDS, UNITS
from carewatch.limits.lost_already import LostAlready
from carewatch.outcome import moment_of
from carewatch.physics.humidity import saturation_vapour_pressure_kpa

MILLIMETRES_PER_MOL_S = 0.018 * 3600.0


@dataclass(frozen=True)
class Band:
    """A series of the members: median and the range that eight in ten keep to."""

    median: tuple[float, ...]
    q10: tuple[float, ...]
    q90: tuple[float, ...]


@dataclass(frozen=True)
class WorkDocument:
    """A work, what it opened and what is left of it."""

    work: str
    on: str
    days: int
    thermal_time: float
    root_supply: float
    anchorage: float
    young_roots: float
    leaf_area: float
    source: str


@dataclass(frozen=True)
class LimitDocument:
    """A limit in force: the dose of 10 % damage; null where the organ is not there."""

    tenth: float | None
    unit: str
    source: str


@dataclass(frozen=True)
class ExplainDocument:
    """`explain --json`."""

    version: int
    site: SiteDocument
    at: str
    forecast: ForecastDocument
    tree: TreeDocument
    hour: str
    works: tuple[WorkDocument, ...]
    steps: tuple[Step, ...]
    limits: Mapping[str, LimitDocument]
    times: tuple[str, ...]
    series: Mapping[str, Band]
    recovery: RecoveryDocument


def explain_document(
    assessment: Assessment, tree_id: str, hazards: HazardNumbers, recovery: RecoveryDocument
) -> ExplainDocument:
    """Everything behind one tree's outlook, its recovery included. Raises KeyError if there is no such tree."""
    tree = next((tree for tree in assessment.trees if tree.condition.tree.id == tree_id), None)
    if tree is None or assessment.detail is None:
        raise KeyError(tree_id)
    detail = assessment.detail
    zone = ZoneInfo(assessment.garden.site.time_zone)
    hour = _telling_hour(assessment, tree, detail)
    return ExplainDocument(
        version=DOCUMENT_VERSION,
        site=site_document(assessment),
        at=stamp(assessment.now.astimezone(zone)),
        forecast=forecast_document(assessment),
        tree=tree_document(tree, assessment),
        hour=stamp(moment_of(assessment.clock.utc[hour], zone)),
        works=tuple(
            WorkDocument(
                work=work.effect.name,
                on=work.entry.at.date().isoformat(),
                days=work.days,
                thermal_time=work.theta,
                root_supply=work.root_supply,
                anchorage=work.anchorage,
                young_roots=work.young_roots,
                leaf_area=work.leaf_area,
                source=work.effect.source,
            )
            for work in tree.condition.opened
        ),
        steps=tuple(_steps(assessment, tree, detail, hour, hazards)),
        limits={
            name: LimitDocument(
                finite(float(detail.judged.limit[name][detail.column])), UNITS[name], limit_source(tree, name, hazards)
            )
            for name in HAZARDS
        },
        times=tuple(stamp(moment_of(moment, zone)) for moment in assessment.clock.utc),
        series={name: _band(values) for name, values in _series(assessment, detail).items()},
        recovery=recovery,
    )


def _telling_hour(assessment: Assessment, tree: TreeOutlook, detail: Detail) -> int:
    """The peak of the costliest spell; for a tree in peace the hour in which its organ is coldest."""
    if tree.spells:
        worst = max(tree.spells, key=lambda spell: spell.loss)
        return int(np.argmin(np.abs(assessment.clock.utc - worst.peak_at)))
    return int(np.median(detail.felt.tissue_c[:, :, detail.column], axis=1).argmin())


def _series(assessment: Assessment, detail: Detail) -> dict[str, Array]:
    """Hourly series of one tree, (hour, member)."""
    felt, around, column = detail.felt, detail.whole.around, detail.column
    return {
        "air_temp_2m_c": assessment.weather.ahead.values["air_temp_c"],
        "air_temp_place_c": around.crown_air_c[:, :, column],
        "tissue_temp_c": felt.tissue_c[:, :, column],
        "root_zone_temp_c": felt.roots.shells_c[:, :, :, column].mean(axis=1),
        "vpd_kpa": detail.whole.parts.vpd_kpa[:, :, column],
        "transpiration_mm": felt.roots.rate_mol[:, :, column] * MILLIMETRES_PER_MOL_S,
        "demand_to_supply": detail.whole.demand_to_supply[:, :, column],
        "water_left": felt.roots.water_left[:, :, column],
        "beam_wm2": around.beam_wm2[:, :, column],
        "overturning": felt.overturning[:, :, column],
    }


def _band(values: Array) -> Band:
    low, middle, high = np.quantile(values, (0.1, 0.5, 0.9), axis=1)
    return Band(*(tuple(round(float(value), 4) for value in row) for row in (middle, low, high)))


def _steps(assessment: Assessment, tree: TreeOutlook, detail: Detail, hour: int, hazards: HazardNumbers) -> list[Step]:
    return [
        *_weather_steps(assessment, hour),
        *_place_steps(detail, hour),
        *_plant_steps(detail, hour, hazards),
        *_condition_steps(tree, hazards),
        *hazard_steps(assessment, tree, detail, hazards),
    ]


def _weather_steps(assessment: Assessment, hour: int) -> list[Step]:
    values = assessment.weather.ahead.values
    source = f"forecast ({assessment.weather.source}), median of {assessment.weather.ahead.members} members"
    estimated = {line.partition(":")[0].split(" ")[0]: line for line in assessment.weather.estimated}
    missing = {line.partition(":")[0].split(" ")[0]: line for line in assessment.weather.missing}

    def step(name: str, quantity: str, unit: str) -> Step:
        said = estimated.get(name) or missing.get(name)
        return Step("weather", quantity, float(np.median(values[name][hour])), unit, said or source)

    return [
        step("air_temp_c", "air temperature at 2 m", "°C"),
        step("dew_point_c", "dew point at 2 m", "°C"),
        step("wind_10m_ms", "wind at 10 m", "m/s"),
        step("gust_10m_ms", "gust at 10 m", "m/s"),
        step("cloud", "cloud", "0-1"),
        step("global_wm2", "global radiation", "W/m²"),
        step("rain_mm", "rain", "mm"),
    ]


def _place_steps(detail: Detail, hour: int) -> list[Step]:
    around, column = detail.whole.around, detail.column

    def median(values: Array) -> float:
        return float(np.median(values[hour, :, column]))

    return [
        Step(
            "place",
            "longwave that comes down on the crown",
            median(around.longwave_down_wm2),
            "W/m²",
            "Prata 1996 with cloud after Konzelmann et al. 1994; what hides the sky radiates at air temperature",
        ),
        Step(
            "place",
            "temperature of the floor",
            median(around.skin_c),
            "°C",
            "surface energy balance with force-restore storage (Deardorff 1978; skin layer Viterbo & Beljaars 1995)",
        ),
        Step(
            "place",
            "air at mid-crown",
            median(around.crown_air_c),
            "°C",
            "profile between floor and 2 m (Businger et al. 1971; Dyer 1974)",
        ),
        Step(
            "place",
            "wind at mid-crown",
            median(around.wind_ms),
            "m/s",
            "log law (FAO-56 eq. 47) times shelter of site and place",
        ),
        Step("place", "gust at mid-crown", median(around.gust_ms), "m/s", "as the wind, from the forecast's gust"),
        Step("place", "direct sun facing it", median(around.beam_wm2), "W/m²", "horizon, trees, cloth and glazing"),
        Step(
            "place",
            "vapour pressure deficit",
            float(
                np.median(
                    saturation_vapour_pressure_kpa(around.crown_air_c[hour, :, column])
                    - around.vapour_kpa[hour, :, column]
                )
            ),
            "kPa",
            "FAO-56 eq. 11",
        ),
    ]


def _plant_steps(detail: Detail, hour: int, hazards: HazardNumbers) -> list[Step]:
    felt, column = detail.felt, detail.column

    def median(values: Array) -> float:
        return float(np.median(values[hour, :, column]))

    shells = felt.roots.shells_c[hour, :, :, column]
    return [
        Step(
            "plant",
            "temperature of the organ that faces the sky",
            median(felt.tissue_c),
            "°C",
            "energy balance of a small organ (Campbell & Norman 1998, ch. 14)",
        ),
        Step(
            "plant",
            "root ball, outermost shell",
            float(np.median(shells[-1])),
            "°C",
            "five shells by enthalpy with the heat of freezing (Oke 1987 for the properties)",
        ),
        Step("plant", "root ball, centre", float(np.median(shells[0])), "°C", "as the outermost shell"),
        Step("plant", "root ball, sunlit side", median(felt.sun_side_c), "°C", "sol-air temperature of the wall"),
        *_seldom_steps(detail, median),
        Step("plant", "uptake at this root temperature", median(felt.roots.uptake), "0-1", hazards.sources["uptake"]),
        Step(
            "plant",
            "water that the leaves ask for",
            median(detail.whole.parts.demand_mol) * 1000,
            "mmol/m²·s",
            "stomata by light and deficit (Leuning 1995, from memory) in the energy balance",
        ),
        Step(
            "plant",
            "water that the roots can bring",
            median(felt.roots.supply_mol) * 1000,
            "mmol/m²·s",
            f"{hazards.supply_cap_mmol:g} mmol/m²·s times root supply over leaf area, uptake and moisture stress "
            "(FAO-56 eq. 84)",
        ),
        Step("plant", "demand over supply", median(detail.whole.demand_to_supply), "-", "ratio of the two"),
        Step("plant", "water left in the pot", median(felt.roots.water_left), "0-1", "bucket with the watering habit"),
        Step(
            "plant",
            "overturning over restoring moment",
            median(felt.overturning),
            "-",
            "drag of a yielding crown (Vollsinger et al. 2005; Vogel 1989) against the weight of the pot",
        ),
    ]


def _seldom_steps(detail: Detail, median: Callable[[Array], float]) -> list[Step]:
    """What is worked out only for trees that it may harm."""
    felt, steps = detail.felt, []
    if np.isfinite(detail.judged.limit["heave"][detail.column]):
        source = "uppermost 2 cm by enthalpy (heave) over the ball's mean"
        steps.append(Step("plant", "ice in the pot's top", median(felt.top_ice), "0-1", source))
    if np.isfinite(detail.judged.limit["bark-scald"][detail.column]):
        source = "a cylinder lit from one side, cooled by wind (Hilpert 1933, from memory) and by the wood"
        steps.append(Step("plant", "sunny side of the stem", median(felt.bark_c), "°C", source))
    if np.isfinite(detail.judged.limit["load"][detail.column]):
        source = "wet bulb near freezing; slides off after Roesch et al. 2001 (from memory)"
        steps.append(Step("plant", "snow on the crown, as water", median(felt.crown_snow_mm), "mm", source))
        source = "simple model of freezing rain (Jones 1998, from memory)"
        steps.append(Step("plant", "ice round the twigs", median(felt.crown_ice_mm), "mm", source))
    if np.isfinite(detail.judged.limit["forcing"][detail.column]):
        source = "daily means of its place, as the stage counts them"
        steps.append(Step("plant", "thermal time so far", median(felt.sheltered.warmth_kd), "°C d", source))
    if np.isfinite(detail.judged.limit["damp"][detail.column]):
        source = "wet hours by the pace of Bulger et al. 1987 (from memory)"
        steps.append(Step("plant", "wet hours in still air, as at 20 °C", median(felt.sheltered.damp_h), "h", source))
    return steps


def _condition_steps(tree: TreeOutlook, hazards: HazardNumbers) -> list[Step]:
    condition = tree.condition
    works = "; ".join(dict.fromkeys(work.effect.source for work in condition.opened)) or "no work is open"
    leaves = credited([verdict for work in condition.opened for verdict in work.leaves])
    stage = condition.tree.species.sources["stage"] if "modelled" in condition.stage_basis else "care log"
    return [
        Step("condition", "stage", f"{condition.stage} ({condition.stage_basis})", "", stage),
        Step(
            "condition",
            "hardening above ground",
            condition.hardened,
            "0-1",
            "short days and cold of its places, undone by warmth and by waking buds (form of Leinonen 1996; estimate)",
        ),
        Step(
            "condition",
            "hardening of ripe roots",
            condition.roots_hardened,
            "0-1",
            "cold of the root zone, less for a year on new roots (direction of Mityga & Lanphear 1971, rates estimate)",
        ),
        Step("condition", "leaf area", condition.leaf_area, "0-1", "stage and works"),
        *_soft_steps(condition),
        Step("condition", "root supply", condition.root_supply, "0-1", works + leaves),
        Step("condition", "anchorage", condition.anchorage, "0-1", works),
        Step("condition", "share of young roots", condition.young_roots, "0-1", works),
        *_cut_steps(condition, hazards),
        *_lost_steps(tree.lost),
    ]


def _lost_steps(lost: LostAlready) -> list[Step]:
    """What the last days have probably taken, so that only half of it is still at stake."""
    source = (
        "weather of the last 14 days under what was in force, by the same limits; until you tell what you see, half of "
        "it is taken to be alive still, for it may have been protected (judged)"
    )
    return [
        Step(
            "condition",
            f"{organ} lost already",
            f"of its {organ} about {100.0 * share:.0f} % are probably lost since {since:%a} {since.day} {since:%b}",
            "",
            source,
        )
        for organ, share, since in (
            ("leaves", lost.leaves, lost.leaves_since),
            ("buds", lost.buds, lost.buds_since),
            ("roots", lost.roots, lost.roots_since),
        )
        if since is not None
    ]


def _soft_steps(condition: Condition) -> list[Step]:
    """How soft its leaves are taken for, where they may be flush still."""
    source = "in full while flush is as likely as not, less over the weeks after; or a second flush (judged)"
    return [Step("condition", "softness of leaves", condition.tender, "0-1", source)] if condition.tender > 0.0 else []


def _cut_steps(condition: Condition, hazards: HazardNumbers) -> list[Step]:
    """Fresh cuts and bared bark, where there are any."""
    wounds, steps = condition.wounds, []
    for name, size in (("open", wounds.open_size), ("pasted", wounds.sealed_size)):
        if size > 0.0:
            steps.append(Step("condition", f"fresh cuts, {name}", size, "0-1", hazards.sources["wound"]))
    if condition.bark_exposure > 0.0:
        source = "half a crown gone bares the stem; used to the sun in a season of growth (estimate)"
        steps.append(Step("condition", "stem without its shade", condition.bark_exposure, "0-1", source))
    return steps
