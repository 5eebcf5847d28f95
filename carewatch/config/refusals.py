"""What pydantic refuses, told as problems: with file and line, in plain words, and without secrets."""

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from carewatch.config.document import Document
from carewatch.config.positions import Location
from carewatch.config.problems import ConfigProblem, nearest_names, one_of, shown
from carewatch.config.secrets import SECRET_KEYS
from carewatch.config.settings import Settings

# What belongs to a tree, where its table is forgotten: what stands over it, and how it is written.
_UNDER_A_TREE = {
    "work": ("tree", "[[tree.work]], below the [[tree]] that it was done to"),
    "pot": ("tree", "[tree.pot], or pot = { volume_l = 3 }, below its [[tree]]"),
    "channel": ("notices", "[[notices.channel]]"),
}
_OUT_OF_RANGE = {"greater_than", "greater_than_equal", "less_than", "less_than_equal", "finite_number"}
_WRONG_LENGTH = {"string_too_long", "string_too_short"}
# The value is no table or list where one is expected: it may be a secret in a wrong place.
_WRONG_SHAPE = {"model_type", "model_attributes_type", "dict_type", "tuple_type", "list_type"}


def problems_from(
    errors: Iterable[Mapping[str, Any]], document: Document, whole: type[BaseModel] = Settings
) -> list[ConfigProblem]:
    """
    One problem per error.

    errors: as `ValidationError.errors()` lists them, of a validation of `document.content` as `whole`.
    """
    return [_problem(error, document, whole) for error in errors]


def _problem(error: Mapping[str, Any], document: Document, whole: type[BaseModel]) -> ConfigProblem:
    location: Location = tuple(error["loc"])
    kind = str(error["type"])
    if kind == "carewatch":
        what, accepted, nearest, within = error["ctx"]["reason"]
        found = None if within or isinstance(error["input"], dict | list) else _found(location, error)
        return document.problem((*location, *within), what, accepted or _accepted(location, whole), found, nearest)
    if kind == "extra_forbidden":
        keys = _keys_beside(location, whole)
        above = _UNDER_A_TREE.get(str(location[0])) if len(location) == 1 else None
        if above:
            return document.problem(location, f"stands below no {above[0]}", above[1])
        return document.problem(location, "is not a known key", one_of(keys), None, nearest_names(location[-1], keys))
    if kind == "missing":
        return document.problem(location, "is missing", _accepted(location, whole))
    if kind == "literal_error":
        nearest = nearest_names(error["input"], _literal_names(location, whole))
        found = _found(location, error)
        return document.problem(location, "is not accepted", _accepted(location, whole), found, nearest)
    return document.problem(location, _what(kind), _accepted(location, whole), _found(location, error))


def _what(kind: str) -> str:
    if kind in _OUT_OF_RANGE:
        return "is out of range"
    if kind in _WRONG_LENGTH:
        return "is too long or too short"
    if kind in _WRONG_SHAPE or kind.endswith(("_type", "_parsing", "_from_float")):
        return "is of the wrong kind"
    return "is not accepted"


def _found(location: Location, error: Mapping[str, Any]) -> str | None:
    if SECRET_KEYS.intersection(step for step in location if isinstance(step, str)):
        return None
    value = error["input"]
    if error["type"] in _WRONG_SHAPE and isinstance(value, str):
        return "a text (not shown)"
    return shown(value)


def _accepted(location: Location, whole: type[BaseModel]) -> str:
    field = _field_at(location, whole)
    return field.description or "" if field is not None else ""


def _field_at(location: Location, whole: type[BaseModel]) -> FieldInfo | None:
    """The field that `location` leads to; steps below the last table stay with the field of that table."""
    model: type[BaseModel] | None = whole
    field: FieldInfo | None = None
    for step in location:
        if isinstance(step, str) and model is not None and step in model.model_fields:
            field = model.model_fields[step]
            model = _model_within(field.annotation)
    return field


def _keys_beside(location: Location, whole: type[BaseModel]) -> tuple[str, ...]:
    """Every key that may stand in the table in which the last step of `location` stands."""
    field = _field_at(location[:-1], whole)
    model = whole if field is None else _model_within(field.annotation)
    return tuple(model.model_fields) if model is not None else ()


def _model_within(annotation: Any) -> type[BaseModel] | None:
    """The model that an annotation such as `tuple[TreeSettings, ...]` is about."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((model for part in get_args(annotation) if (model := _model_within(part)) is not None), None)


def _literal_names(location: Location, whole: type[BaseModel]) -> tuple[str, ...]:
    field = _field_at(location, whole)
    return _names_within(field.annotation) if field is not None else ()


def _names_within(annotation: Any) -> tuple[str, ...]:
    names: list[str] = []
    for part in get_args(annotation):
        names += (part,) if isinstance(part, str) else _names_within(part)
    return tuple(names)
