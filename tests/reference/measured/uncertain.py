"""Every constant and formula of the floor that could as well be another, at the low and high that are published."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import ModuleType
from typing import cast

from carewatch.physics import ground
from carewatch.physics.radiation import sky_emissivity_clear
from carewatch.place import microclimate
from tests.reference.measured import alternatives

Owner = ModuleType | dict[str, float]


@dataclass(frozen=True)
class Change:
    """One thing done otherwise: what stands in the report, where the value is from, and what is put where."""

    name: str
    source: str
    places: tuple[tuple[Owner, str, object], ...]


def _number(name: str, source: str, owner: Owner, key: str, *values: float) -> tuple[Change, ...]:
    return tuple(Change(f"{name} {value:g}", source, ((owner, key, value),)) for value in values)


def _roughness(metres: float) -> Change:
    source = "Oke 1987, table 2.2: short grass; a tenth of it for heat (FAO-56)"
    return Change(f"roughness {metres:g} m", source, ((ground, "ROUGHNESS_M", metres),))


def _sky(name: str, clear: alternatives.Emissivity, clouded: alternatives.Emissivity) -> Change:
    longwave = alternatives.sky(clear, clouded)
    return Change(f"sky {name}", "see alternatives.py", ((microclimate, "sky_longwave_wm2", longwave),))


def _stability(name: str, function: alternatives.Stability) -> Change:
    return Change(f"stable air {name}", "see alternatives.py", ((ground, "stability", function),))


CHANGES: tuple[Change, ...] = (
    *_number(
        "skin conductance of grass",
        "3: Cabauw (Beljaars & Betts 1993); 5: Moene & van Dam 2014; 10: ECMWF's later schemes",
        ground.SKIN_CONDUCTANCE,
        "grass",
        3.0,
        5.0,
        10.0,
    ),
    _roughness(0.003),
    _roughness(0.03),
    *_number(
        "roughness for heat, share",
        "a hundredth; 1/7.4 of that for momentum (Garratt & Francey 1978)",
        ground,
        "HEAT_ROUGHNESS_SHARE",
        0.01,
        0.135,
    ),
    *_number("soil conductivity", "Oke 1987, table 2.1: clay, dry and wet", ground, "SOIL_CONDUCTIVITY", 0.25, 1.58),
    *_number("soil heat capacity", "Oke 1987, table 2.1: clay, dry and wet", ground, "SOIL_HEAT", 1.42e6, 3.10e6),
    *_number(
        "emissivity of grass",
        "Oke 1987, table 1.1: 0.90-0.95; Campbell & Norman 0.98",
        ground,
        "EMISSIVITY",
        0.95,
        0.98,
    ),
    *_number(
        "least wind",
        "0.1: ECMWF; 1: Community Land Model, at its own 30 m (from memory)",
        ground,
        "LEAST_WIND_MS",
        0.1,
        1.0,
    ),
    *_number(
        "resistance of grass",
        "0: wet leaves; 70: FAO-56; 200: by night (Allen et al. 2006)",
        ground.SURFACE_RESISTANCE,
        "grass",
        0.0,
        70.0,
        200.0,
    ),
    *_number("open roughness", "Oke 1987, table 2.2: 0.01-0.1 m", microclimate, "OPEN_ROUGHNESS_M", 0.01, 0.1),
    _stability(
        "Beljaars & Holtslag 1991",
        alternatives.profile_stability(alternatives.beljaars_holtslag_momentum, alternatives.beljaars_holtslag),
    ),
    _stability(
        "Holtslag & De Bruin 1988",
        alternatives.profile_stability(alternatives.holtslag_de_bruin, alternatives.holtslag_de_bruin),
    ),
    _stability("Dyer 1974", alternatives.profile_stability(alternatives.dyer, alternatives.dyer)),
    _stability("King et al. 2001", alternatives.sharp_stability()),
    _sky("clear: Brutsaert 1975", alternatives.brutsaert, alternatives.whole_cloud),
    _sky("clear: Idso 1981", alternatives.idso, alternatives.whole_cloud),
    _sky("clear: Dilley & O'Brien 1998", alternatives.dilley_obrien, alternatives.whole_cloud),
    _sky("clear: Brunt, Sellers 1965", alternatives.brunt, alternatives.whole_cloud),
    _sky("clear: Idso & Jackson 1969", alternatives.idso_jackson, alternatives.whole_cloud),
    _sky("cloud: Keding 1989", sky_emissivity_clear, alternatives.keding_cloud),
    _sky("cloud: Crawford & Duchon 1999", sky_emissivity_clear, alternatives.crawford_cloud),
    _sky("cloud: Unsworth & Monteith 1975", sky_emissivity_clear, alternatives.linear_cloud),
    _sky("cloud: Maykut & Church 1973", sky_emissivity_clear, alternatives.late_cloud),
    _sky("cloud: Jacobs 1978", sky_emissivity_clear, alternatives.even_cloud),
    _sky("cloud: Bolz 1949", sky_emissivity_clear, alternatives.square_cloud),
)


@contextmanager
def changed(*changes: Change) -> Iterator[None]:
    """Within the block the changes hold; afterwards everything is as it was."""
    before: list[tuple[Owner, str, object]] = []
    try:
        for change in changes:
            for owner, key, value in change.places:
                before.append((owner, key, _put(owner, key, value)))
        yield
    finally:
        for owner, key, value in reversed(before):
            _put(owner, key, value)


def _put(owner: Owner, key: str, value: object) -> object:
    """What was there before."""
    table = cast("dict[str, object]", owner if isinstance(owner, dict) else vars(owner))
    old = table[key]
    table[key] = value
    return old
