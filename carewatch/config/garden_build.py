"""From checked settings to the frozen values of the pure parts, with every default of the tables filled in."""

from collections.abc import Callable
from dataclasses import replace
from zoneinfo import ZoneInfo

from carewatch.care.garden import Garden, NoticeRules, Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Pot, Substrate, Tree
from carewatch.config.garden_settings import PlaceSettings, PotSettings, TreeSettings, local_moment
from carewatch.config.positions import Location
from carewatch.config.settings import NoticesSettings, Settings
from carewatch.config.tables import Tables
from carewatch.place.spot import Place, Site

# Where many gardens lie (estimate). Only air pressure follows from it, about 1.2 kPa per 100 m; the weather source
# gets no height and uses its own terrain model.
ASSUMED_ELEVATION_M = 100.0
USUAL_SUBSTRATE = "loam-mix"
USUAL_COLOUR = "black"


def build_garden(settings: Settings, tables: Tables, origin: Callable[[Location], str]) -> Garden:
    """
    The garden that the settings describe.

    settings: validated with `tables` in their context, so that every name in them is known.
    origin: says in words where a path of the settings stands.
    """
    zone = ZoneInfo(settings.site.time_zone)
    entries = [
        _entry(tree, index, zone, origin(("tree", number, "work", index)))
        for number, tree in enumerate(settings.tree)
        for index in range(len(tree.work))
    ]
    return Garden(
        site=_site(settings),
        places={place.id: _place(place, tables) for place in settings.place},
        trees=tuple(_tree(tree, tables) for tree in settings.tree),
        log=tuple(sorted(entries, key=lambda entry: (entry.at, entry.tree))),
        notices=_rules(settings.notices),
        stock=Stock(
            fleece_m2=settings.stock.fleece_m2,
            net_m2=settings.stock.net_m2,
            tents=settings.stock.tents,
            mulch=settings.stock.mulch,
        ),
    )


def _site(settings: Settings) -> Site:
    site = settings.site
    return Site(
        name=site.name,
        latitude=site.latitude,
        longitude=site.longitude,
        elevation_m=ASSUMED_ELEVATION_M if site.elevation_m is None else site.elevation_m,
        time_zone=site.time_zone,
        surroundings=site.surroundings,
    )


def _rules(notices: NoticesSettings) -> NoticeRules:
    return NoticeRules(
        quiet_from=notices.quiet_from,
        quiet_to=notices.quiet_to,
        rounds_at=notices.rounds_at,
        caution=notices.caution,
        unlit_garden=notices.unlit_garden,
        lift_kg=notices.lift_kg,
        away=notices.away,
        repeat_after_minutes=notices.repeat_after_minutes,
    )


def _place(given: PlaceSettings, tables: Tables) -> Place:
    """The template of the kind, overridden by what the file says."""
    kind = tables.place_kinds[given.kind]
    values = given.model_dump(exclude_none=True, exclude={"id", "kind"})
    if given.sky_view is not None and given.sky_view_leafless is None and kind.sky_view_leafless is not None:
        # Of what hides this place's sky the same share falls with the leaves as at an ordinary place of the kind.
        opens = (kind.sky_view_leafless - kind.sky_view) / (1.0 - kind.sky_view)
        values["sky_view_leafless"] = given.sky_view + opens * (1.0 - given.sky_view)
    return replace(kind, id=given.id, **values)


def _tree(given: TreeSettings, tables: Tables) -> Tree:
    return Tree(
        id=given.id,
        species=tables.species_for(given.species, given.kind),
        place=given.place,
        worth=given.worth,
        fixed=given.fixed,
        height_cm=given.height_cm,
        crown_cm=given.crown_cm,
        substrate=_substrate(given.substrate, tables),
        watering=given.watering,
        measures=given.measures,
        pot=_pot(given.pot, tables),
        since=given.since,
    )


def _substrate(name: str | None, tables: Tables) -> Substrate:
    if name is not None:
        return tables.substrates[name]
    return tables.substrates.get(USUAL_SUBSTRATE) or next(iter(tables.substrates.values()))


def _pot(given: PotSettings, tables: Tables) -> Pot:
    """
    The pot with all its measures.

    A volume alone becomes a pot as long and as wide as it is deep, which is near the shape of round pots; measures
    alone become a box filled to the rim.
    """
    length, width, depth = given.length_cm, given.width_cm, given.depth_cm
    volume = given.volume_l
    if length is None or width is None or depth is None:
        length = width = depth = ((volume or 0.0) * 1000) ** (1 / 3)
    elif volume is None:
        volume = length * width * depth / 1000
    material = tables.pot_materials[given.material]
    colour = given.colour or (given.material if given.material in tables.pot_colours else USUAL_COLOUR)
    return Pot(
        volume_l=volume or 0.0,
        length_cm=length,
        width_cm=width,
        depth_cm=depth,
        material=given.material,
        colour=colour,
        wall_conductivity=material.wall_conductivity,
        wall_mm=material.wall_mm,
        absorptance=tables.pot_colours[colour],
    )


def _entry(tree: TreeSettings, index: int, zone: ZoneInfo, origin: str) -> Entry:
    given = tree.work[index]
    return Entry(
        tree=tree.id,
        at=local_moment(given.on, zone),
        origin=origin,
        **given.model_dump(exclude={"on"}),
    )
