"""Bodies that warm and cool: lumped cooling of a root ball, a leaf under the night sky."""

from tests.reference.registry import Chapter

CHAPTER = Chapter("Thermal bodies", ())
