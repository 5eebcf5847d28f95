"""Gardens and weather of any size for benchmarks, grown from the demo's invented ones."""

from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import numpy as np

from carewatch.assess import Numbers
from carewatch.care.garden import Garden
from carewatch.config.load import load
from carewatch.config.tables import Tables, load_tables
from carewatch.forecast.complete import complete
from carewatch.forecast.weather import Hours, Weather
from carewatch.weather_api.recorded import read_recorded

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
IN_DANGER = ("maple-layer-1", "maple-layer-2")


def demo_folder() -> Path:
    """The folder of the demo's files."""
    return Path(str(files("carewatch") / "demo"))


def numbers(tables: Tables) -> Numbers:
    """The tables as the chain wants them."""
    return Numbers(tables.condition, tables.measures, tables.hazards)


def grown_garden(trees: int, in_danger: int) -> Garden:
    """The demo's autumn garden with so many trees, so many of them freshly severed layers that the night endangers."""
    garden = load(demo_folder() / "autumn.toml", {}, NOW, load_tables()).garden
    fragile = [tree for tree in garden.trees if tree.id in IN_DANGER]
    sturdy = [tree for tree in garden.trees if tree.id not in IN_DANGER]
    grown, log = [], []
    for index in range(trees):
        kind = fragile if index < in_danger else sturdy
        model = kind[index % len(kind)]
        copy = replace(model, id=f"tree-{index}")
        grown.append(copy)
        log += [replace(entry, tree=copy.id) for entry in garden.log if entry.tree == model.id]
    stock = replace(garden.stock, fleece_m2=1e4, net_m2=1e4)
    return replace(garden, trees=tuple(grown), log=tuple(log), stock=stock)


def grown_weather(members: int, hours: int) -> Weather:
    """The demo's cold night with so many members and hours: the dressed ones, repeated with a touch of their own."""
    garden = grown_garden(1, 0)
    raw = read_recorded(demo_folder() / "cold-night.json")
    site = garden.site
    weather = complete(raw, site.latitude, site.longitude, site.elevation_m, NOW, load_tables().forecast_errors)
    chosen = np.arange(members) % weather.ahead.members
    values = {name: table[:hours, chosen] for name, table in weather.ahead.values.items()}
    touch = np.random.default_rng(5).normal(0.0, 0.1, members)
    values["air_temp_c"] = values["air_temp_c"] + touch
    values["dew_point_c"] = np.minimum(values["dew_point_c"], values["air_temp_c"])
    known = {name: min(hours, until) for name, until in weather.known_until.items()}
    return replace(weather, ahead=Hours(weather.ahead.times[:hours], values), known_until=known)
