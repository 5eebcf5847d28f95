"""
A state worked out from the past, as bytes under a key that stands for everything that went into it.

A cache and never a truth: what does not bear the key of its own input, or was damaged, is None and worked out again.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar, get_type_hints

import numpy as np

from carewatch.forecast.weather import Array

T = TypeVar("T")

# Raised when the layout of the bytes changes; the key stands for it, and for the library that computes. Who keeps a
# checkpoint keeps the release with it: another one may compute another state.
LAYOUT = 3
DIGEST_BYTES = 32


def key_of(*inputs: object) -> str:
    """
    64 hex digits that stand for these inputs: the same only if each of them is the same to the last bit.

    inputs: arrays, numbers, texts, and frozen dataclasses, mappings and sequences of such.
    """
    digest = hashlib.sha256()
    for item in (LAYOUT, np.__version__, *inputs):
        _feed(digest.update, item)
    return digest.hexdigest()


def packed(key: str, state: object) -> bytes:
    """A state, a dataclass of float64 arrays and of such dataclasses, as bytes that know their key and their sum."""
    arrays = list(_arrays(state))
    shapes = ";".join(",".join(map(str, values.shape)) for values in arrays)
    body = b"\n".join((shapes.encode(), b"".join(np.ascontiguousarray(values).tobytes() for values in arrays)))
    return _sum(key, body) + body


def unpacked(key: str, content: bytes, kind: type[T]) -> T | None:
    """The state of this kind that was packed under a key, or None where the bytes are not that."""
    body = content[DIGEST_BYTES:]
    if content[:DIGEST_BYTES] != _sum(key, body):
        return None
    head, _, rest = body.partition(b"\n")
    shapes = [tuple(int(size) for size in text.split(",")) for text in head.decode().split(";")]
    values = np.frombuffer(rest, dtype=np.float64).copy()
    ends = np.cumsum([int(np.prod(shape)) for shape in shapes])
    parts = [part.reshape(shape) for part, shape in zip(np.split(values, ends[:-1]), shapes, strict=True)]
    return None if len(parts) != _count(kind) else _refilled(kind, iter(parts))


def _sum(key: str, body: bytes) -> bytes:
    return hashlib.sha256(key.encode() + body).digest()


def _arrays(state: Any) -> Iterator[Array]:
    for field in fields(state):
        value = getattr(state, field.name)
        if is_dataclass(value):
            yield from _arrays(value)
        else:
            yield value


def _count(kind: Any) -> int:
    hints = get_type_hints(kind)
    return sum(_count(hints[field.name]) if is_dataclass(hints[field.name]) else 1 for field in fields(kind))


def _refilled(kind: Any, parts: Iterator[Array]) -> Any:
    hints = get_type_hints(kind)
    return kind(
        **{
            field.name: _refilled(hints[field.name], parts) if is_dataclass(hints[field.name]) else next(parts)
            for field in fields(kind)
        }
    )


def _feed(update: Callable[[bytes], None], item: Any) -> None:
    """Feed a digest with one input, marked with its kind and size so that no two inputs read alike."""
    if isinstance(item, np.ndarray):
        update(f"<{item.dtype.str}{item.shape}>".encode())
        update(np.ascontiguousarray(item).tobytes())
    elif is_dataclass(item) and not isinstance(item, type):
        update(f"<{type(item).__name__}>".encode())
        for field in fields(item):
            update(field.name.encode())
            _feed(update, getattr(item, field.name))
    elif isinstance(item, Mapping):
        update(f"<map {len(item)}>".encode())
        for key in sorted(item):
            _feed(update, key)
            _feed(update, item[key])
    elif isinstance(item, Sequence) and not isinstance(item, str | bytes):
        update(f"<list {len(item)}>".encode())
        for part in item:
            _feed(update, part)
    else:
        text = repr(item)
        update(f"<{type(item).__name__} {len(text)}>{text}".encode())
