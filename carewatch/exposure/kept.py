"""What is kept of a judgement for the next one, as plain bytes."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Checkpoint:
    """
    What the past had made of a garden's floors and root balls, under a key that stands for all that went into it.

    key: 64 hex digits, from checkpoint.key_of. content: from checkpoint.packed.
    """

    key: str
    content: bytes
