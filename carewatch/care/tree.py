"""A tree and its pot, as the garden file describes them, with every default filled in."""

from dataclasses import dataclass
from datetime import date

from carewatch.care.species import Species


@dataclass(frozen=True)
class Substrate:
    """
    What fills a pot; one row of substrates.toml. All shares are of the substrate's volume.

    porosity: pore space. [0-1]
    water_at_capacity: water held after drainage in a column of `reference_depth_cm`. [0-1]
    depth_slope: change of water_at_capacity per cm that the pot is shallower (+) than the reference. [1 cm⁻¹]
    available: share of the held water that roots can take. [0-1]
    solid_heat_mj: volumetric heat capacity of the solids. [MJ m⁻³ K⁻¹]
    conductivity_dry, conductivity_wet: thermal conductivity when dry and at capacity. [W m⁻¹ K⁻¹]
    drain_hours: time constant of drainage to capacity after rain. [h]
    density_dry: bulk density when dry. [kg m⁻³]
    """

    name: str
    porosity: float
    water_at_capacity: float
    reference_depth_cm: float
    depth_slope: float
    available: float
    solid_heat_mj: float
    conductivity_dry: float
    conductivity_wet: float
    drain_hours: float
    density_dry: float
    source: str


@dataclass(frozen=True)
class Pot:
    """
    The container. Length, width and depth are inner measures [cm]; volume is of the substrate [L].

    wall_conductivity: of the wall [W m⁻¹ K⁻¹]; wall_mm: its thickness [mm]; absorptance: of its outside for sunlight
    [0-1].
    """

    volume_l: float
    length_cm: float
    width_cm: float
    depth_cm: float
    material: str
    colour: str
    wall_conductivity: float
    wall_mm: float
    absorptance: float


@dataclass(frozen=True)
class Tree:
    """
    One tree.

    worth: 1 is an ordinary tree of this garden. [-]
    fixed: cannot be moved (bolted, planted, too heavy).
    height_cm, crown_cm: above the pot's rim; width of the crown. [cm]
    watering: "daily", "twice-daily", "every-2-days", "every-3-days" or "rain-only".
    measures: names of measures that are in force all the time.
    since: first day in this garden, None where nobody wrote it down: no work can lie before.
    """

    id: str
    species: Species
    place: str
    worth: float
    fixed: bool
    height_cm: float
    crown_cm: float
    substrate: Substrate
    watering: str
    measures: tuple[str, ...]
    pot: Pot
    since: date | None = None

    def wet_mass_kg(self) -> float:
        """Mass of pot and wet substrate: 1.4 kg per litre plus a tenth for the pot (common practice). [kg]"""
        return 1.4 * self.pot.volume_l * 1.1
