"""The package's tables of numbers (TOML beside their sources), read once into the frozen values of the pure parts."""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import SequenceMatcher, get_close_matches
from functools import cache
from importlib.resources import files
from math import inf
from typing import Any

from carewatch.care.species import Species
from carewatch.care.tree import Substrate
from carewatch.care.work_rules import Bound, DayRule, SeasonRule, StackingRule, Vigour, Window, WorkRules
from carewatch.care.works import WorkEffect
from carewatch.condition.numbers import (
    ConditionNumbers,
    HardeningNumbers,
    LeafAreaNumbers,
    LeafNumbers,
    RecoveryNumbers,
    WoundNumbers,
)
from carewatch.forecast.errors import ForecastErrors
from carewatch.limits.doses import HazardNumbers
from carewatch.measures.catalogue import Measure
from carewatch.place.spot import Place
from carewatch.tasks.numbers import KindRule, TaskNumbers

Row = dict[str, Any]

# species.toml: group of keys -> (key in the group -> field of Species). The group `frost` becomes frost_c as it is.
SPECIES_GROUPS: Mapping[str, Mapping[str, str]] = {
    "root": {
        "young_c": "root_young_c",
        "october_c": "root_october_c",
        "midwinter_c": "root_midwinter_c",
        "base_c": "root_base_c",
    },
    "heat": {"leaf_4h_c": "leaf_heat_4h_c"},
    "chill": {"below_10_kh": "chill_kh"},
    "sun": {"intact_kwh": "sun_kwh", "step_kwh": "sun_step_kwh"},
    "leaf": {"width_cm": "leaf_width_cm"},
    "drying": {
        "leaf_water_gm2": "leaf_water_gm2",
        "stomatal_mol": "stomatal_mol",
        "closed_mol": "closed_mol",
        "closed_flush_mol": "closed_flush_mol",
        "loss_mature": "water_loss_mature",
        "loss_flush": "water_loss_flush",
    },
    "stage": {
        key: key
        for key in (
            "chill_portions",
            "chill_cost",
            "forcing_base_c",
            "bud_swell_gdd",
            "leaf_out_gdd",
            "flush_gdd",
            "colouring_day_length_h",
            "colouring_sum",
            "leaf_fall_sum",
        )
    },
}
# Stages of deciduous trees whose limits are those of another stage unless a row says otherwise: a colouring leaf
# freezes like a mature one, and a tree stripped in season stands on swelling second buds.
STAGE_LIKE = {"colouring": "mature-leaf", "leafless": "bud-swell"}
# What holds for kinds without a group: most bear cold above zero.
WITHOUT: Row = {"chill": (inf, inf)}
# What may stand between genus and epithet, or in place of an epithet.
RANK_WORDS = frozenset({"×", "x", "sp", "sp.", "spp", "spp."})
CULTIVAR = re.compile(r"""(['"‘“`])[^'"’”`]*['"’”`]?""")
MISSPELT_RATIO = 0.8


class UnknownName(Exception):
    """A name that no table holds, with the nearest ones that it could have meant (nearest first)."""

    name: str
    nearest: tuple[str, ...]

    def __init__(self, name: str, nearest: tuple[str, ...]) -> None:
        super().__init__(name, nearest)
        self.name = name
        self.nearest = nearest

    def __str__(self) -> str:
        """The name in quotes, and what it could have meant."""
        return f"unknown name {self.name!r}" + (f", nearest: {', '.join(self.nearest)}" if self.nearest else "")


@dataclass(frozen=True)
class PotMaterial:
    """What a pot's wall is made of: thermal conductivity [W m⁻¹ K⁻¹] and usual thickness [mm]."""

    wall_conductivity: float
    wall_mm: float
    source: str


@dataclass(frozen=True)
class Tables:
    """
    Every table of the package.

    place_kinds: templates of places, whose id is empty; pot_colours: absorptance for sunlight. [0-1]
    """

    works: Mapping[str, WorkEffect]
    condition: ConditionNumbers
    measures: Mapping[str, Measure]
    substrates: Mapping[str, Substrate]
    hazards: HazardNumbers
    place_kinds: Mapping[str, Place]
    pot_materials: Mapping[str, PotMaterial]
    pot_colours: Mapping[str, float]
    forecast_errors: ForecastErrors
    tasks: TaskNumbers
    work_rules: WorkRules
    species_rows: Mapping[str, Species] = field(repr=False)
    genus_rows: Mapping[str, Species] = field(repr=False)
    class_rows: Mapping[str, Species] = field(repr=False)
    common_names: Mapping[str, str] = field(repr=False)

    def known_species(self) -> tuple[str, ...]:
        """Names that `species_for` accepts as they are: the species in the tables, then the genera."""
        return (*sorted(self.species_rows), *sorted(self.genus_rows))

    def species_for(self, name: str, kind: str | None = None) -> Species:
        """
        The row for a botanical name, with what was asked for and how it was found.

        name: genus or genus and epithet in any case, with or without a cultivar in quotes. An epithet without a row of
        its own takes its genus, unless it is nearly one of that genus's epithets: then it is a slip of the pen.
        kind: of `class_rows`, that serves where the genus is not known; it says nothing where it is.

        Raises UnknownName with the nearest names.
        """
        words = [word for word in CULTIVAR.sub(" ", name).casefold().split() if word not in RANK_WORDS]
        genus = words[0].capitalize() if words else ""
        asked = " ".join([genus, *words[1:2]])
        if asked in self.species_rows:
            return replace(self.species_rows[asked], asked_for=name)
        if genus not in self.genus_rows:
            if kind is not None and kind in self.class_rows and genus:
                return replace(self.class_rows[kind], asked_for=name)
            raise UnknownName(name, self._nearest(" ".join(words)))
        if len(words) > 1:
            slips = [
                row
                for row in self.species_rows
                if row.startswith(f"{genus} ") and _misspelt(words[1], row.rpartition(" ")[2])
            ]
            if slips:
                raise UnknownName(name, tuple(sorted(slips)))
        return replace(self.genus_rows[genus], asked_for=name)

    def _nearest(self, wanted: str) -> tuple[str, ...]:
        """Up to three names like the wanted one: by common name or its last word, by whole name, by genus alone."""
        first_word, last_word = wanted.partition(" ")[0], wanted.rpartition(" ")[2]
        botanical = {known.casefold(): known for known in self.known_species()}
        common = [
            *get_close_matches(wanted, self.common_names, n=1, cutoff=MISSPELT_RATIO),
            *get_close_matches(last_word, self.common_names, n=1, cutoff=MISSPELT_RATIO),
        ]
        whole = get_close_matches(wanted, botanical, n=3, cutoff=0.7)
        genera = get_close_matches(first_word, botanical, n=3, cutoff=0.6)
        found = [*(self.common_names[name] for name in common), *(botanical[name] for name in (*whole, *genera))]
        return tuple(dict.fromkeys(found))[:3]


@cache
def load_tables() -> Tables:
    """Every table that ships with the package; read once per process."""
    species = _read("species.toml")
    pots = _read("pots.toml")
    places = _read("places.toml")
    hazard_numbers = _hazards(_read("hazards.toml"))
    works = _works(_read("works.toml"))
    work_rules = _work_rules(_read("seasons.toml"))
    colours = dict(pots["colour"])
    colours.pop("source")
    return Tables(
        work_rules=work_rules,
        works=works,
        condition=_condition(_read("condition.toml"), works, hazard_numbers.gust_intact_ms, work_rules),
        measures=_measures(_read("measures.toml")),
        substrates={name: Substrate(name=name, **row) for name, row in _read("substrates.toml").items()},
        hazards=hazard_numbers,
        place_kinds={kind: _place(kind, row) for kind, row in places.items()},
        pot_materials={name: PotMaterial(**row) for name, row in pots["material"].items()},
        pot_colours=colours,
        forecast_errors=ForecastErrors(**{key: _frozen(value) for key, value in _read("forecast.toml").items()}),
        tasks=_tasks(_read("tasks.toml"), work_rules, hazard_numbers),
        species_rows={name: _species("species", _rows_from_species(name, species)) for name in species["species"]},
        genus_rows=_genera(species),
        class_rows={name: _species("class", [(name, row)]) for name, row in species["class"].items()},
        common_names={name.casefold(): botanical for name, botanical in species["common"].items()},
    )


def _read(file_name: str) -> Row:
    """The content of one table file."""
    return tomllib.loads((files("carewatch") / "tables" / file_name).read_text(encoding="utf-8"))


def _frozen(value: Any) -> Any:
    """The value with every list made a tuple."""
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value


def _complete(row: Row, optional: Iterable[str]) -> Row:
    """The row with lists made tuples and None for optional keys that it leaves out (TOML has no null)."""
    return dict.fromkeys(optional) | {key: _frozen(value) for key, value in row.items()}


def _optional(kind: type) -> tuple[str, ...]:
    """Names of a dataclass's fields that may be None."""
    return tuple(entry.name for entry in fields(kind) if "None" in str(entry.type))


def _beside_neutral(table: Row, kind: type) -> Iterator[tuple[str, Row]]:
    """Name and complete content of every row but the neutral one, which stands in for what a row leaves out."""
    neutral = {key: value for key, value in table["neutral"].items() if key != "source"}
    optional = _optional(kind)
    for name, row in table.items():
        if name != "neutral":
            yield name, _complete(neutral | row, optional)


def _works(table: Row) -> dict[str, WorkEffect]:
    return {name: WorkEffect(name=name, **row) for name, row in _beside_neutral(table, WorkEffect)}


def _condition(
    table: Row, works: Mapping[str, WorkEffect], gust_intact_ms: float, rules: WorkRules
) -> ConditionNumbers:
    """The numbers of the condition: groups are flattened into the value that has a name for each key."""
    rows = {
        group: {key: _frozen(value) for key, value in row.items() if key != "source"} for group, row in table.items()
    }
    sources = {group: row["source"] for group, row in table.items()}
    return ConditionNumbers(
        works=works,
        gust_intact_ms=gust_intact_ms,
        leaves=LeafNumbers(**rows["leaf-question"], source=sources["leaf-question"]),
        wounds=WoundNumbers(**rows["wounds"], **rows["paste"], **rows["bare-bark"]),
        recovery=RecoveryNumbers(
            **rows["hold"], **rows["recovery"], layer_still_days=rules.wait("untie", "sever-layer")[0]
        ),
        leaf_area=LeafAreaNumbers(**rows["leaf-area"]),
        hardening=HardeningNumbers(**rows["hardening"], **rows["unfed-roots"]),
        sources=sources,
    )


def _measures(table: Row) -> dict[str, Measure]:
    return {name: Measure(name=name, **row) for name, row in _beside_neutral(table, Measure)}


def _place(kind: str, row: Row) -> Place:
    """Template of one kind of place."""
    values = {key: value for key, value in row.items() if key != "source"}
    return Place(id="", kind=kind, **_complete(values, _optional(Place)))


def _hazards(table: Row) -> HazardNumbers:
    """The numbers of hazards: groups are flattened, their sources kept by group."""
    organ_weight = {key: value for key, value in table["organ_weight"].items() if key != "source"}
    values: Row = {}
    for group, row in table.items():
        if group != "organ_weight":
            values |= {key: _frozen(value) for key, value in row.items() if key != "source"}
    sources = {group: row["source"] for group, row in table.items()}
    return HazardNumbers(organ_weight=organ_weight, sources=sources, **values)


def _work_rules(table: Row) -> WorkRules:
    """When works are right, which do not go together, and what their day must be like."""
    seasons = [
        SeasonRule(
            windows=tuple(Window(**{end: Bound(**({"days": 0} | row[end])) for end in row}) for row in rule["windows"]),
            winter_place=rule.get("winter_place", False),
            **_complete(
                {key: value for key, value in rule.items() if key not in ("windows", "winter_place")},
                _optional(SeasonRule),
            ),
        )
        for rule in table["season"]
    ]
    stacking = [
        StackingRule(**_complete({key: value for key, value in rule.items() if key != "season"}, ("days",)))
        for rule in table["stacking"]
    ]
    heavy = dict(table["heavy"])
    dry = {"dry_before_h": 0.0, "dry_after_h": 0.0}
    return WorkRules(
        seasons=tuple(seasons),
        stacking=tuple(stacking),
        heavy_source=heavy.pop("source"),
        heavy=heavy,
        vigour=Vigour(**_complete(table["vigour"], ())),
        days=tuple(DayRule(**_complete(dry | row, ())) for row in table["day"].values()),
    )


def _tasks(table: Row, rules: WorkRules, hazards: HazardNumbers) -> TaskNumbers:
    """The numbers of the long clock: rows are flattened, their sources kept by row; beside them those they rest on."""
    kindest = {kind: KindRule(**_complete(row, _optional(KindRule))) for kind, row in table["kindest"].items()}
    rows = {name: row for name, row in table.items() if name != "kindest"}
    values: Row = {}
    for row in rows.values():
        values |= {key: _frozen(value) for key, value in row.items() if key != "source"}
    sources = {name: row["source"] for name, row in rows.items()}
    return TaskNumbers(kindest=kindest, sources=sources, rules=rules, hazards=hazards, **values)


def _genera(table: Row) -> dict[str, Species]:
    """What each known genus takes: a row of its own, or that of the class that lists it."""
    rows: dict[str, Species] = {}
    for class_name, row in table["class"].items():
        of_class = _species("class", [(class_name, row)])
        rows |= dict.fromkeys(row["genera"], of_class)
    return rows | {name: _species("genus", _rows_from_genus(name, table)) for name in table["genus"]}


def _rows_from_genus(genus: str, table: Row) -> list[tuple[str, Row]]:
    """The named rows from which a genus takes its numbers, nearest first."""
    own = table["genus"].get(genus)
    if own is None:
        return [(name, row) for name, row in table["class"].items() if genus in row["genera"]]
    return [(genus, own), (own["class"], table["class"][own["class"]])]


def _rows_from_species(name: str, table: Row) -> list[tuple[str, Row]]:
    """The named rows from which a species takes its numbers, nearest first; a row with a class skips its genus."""
    own = table["species"][name]
    if "class" in own:
        return [(name, own), (own["class"], table["class"][own["class"]])]
    return [(name, own), *_rows_from_genus(name.split(maxsplit=1)[0], table)]


def _species(found_by: str, chain: list[tuple[str, Row]]) -> Species:
    """A species, genus or class from its own row and those above it."""
    rows = [row for _, row in chain]
    grouped = {
        group: _inherited(group, rows)
        for group in ("frost", *SPECIES_GROUPS)
        if group not in WITHOUT or any(group in row for row in rows)
    }
    kind = chain[-1][1]
    frost = {stage: _frozen(doses) for stage, doses in grouped["frost"].items() if stage != "source"}
    if not kind["evergreen"]:
        frost = {stage: frost[like] for stage, like in STAGE_LIKE.items()} | frost
    values = {
        target: _frozen(grouped[group][key]) if group in grouped else WITHOUT[group]
        for group, keys in SPECIES_GROUPS.items()
        for key, target in keys.items()
    }
    return Species(
        name=chain[0][0],
        asked_for=chain[0][0],
        found_by=found_by,
        leaf_class=kind["leaf_class"],
        evergreen=kind["evergreen"],
        frost_c=frost,
        sources={group: str(row["source"]) for group, row in grouped.items()},
        **values,
    )


def _inherited(group: str, chain: list[Row]) -> Row:
    """The keys of one group, nearest row first, with the sources of all rows that contributed."""
    merged: Row = {}
    sources: list[str] = []
    for row in chain:
        new = {key: value for key, value in row.get(group, {}).items() if key != "source" and key not in merged}
        if new:
            merged |= new
            sources.append(str(row[group]["source"]))
    return merged | {"source": "; for what that leaves out: ".join(dict.fromkeys(sources))}


def _misspelt(given: str, known: str) -> bool:
    """Whether an epithet is nearly a known one."""
    return SequenceMatcher(None, given, known).ratio() >= MISSPELT_RATIO
