"""The garden of the replay: five trees of which some need a hand in a cold spell and some never do."""

from tests.outlook.gardens import BENCH, LAWN, SHED, seen, severed, tree

STOCK = "[stock]\nfleece_m2 = 4\nnet_m2 = 2\ntents = 0\nmulch = true\n"
# Asked for in vain it would be a false alarm of the worst kind; at −16 °C its small pot is in danger, too.
HARDY = ("pine",)


def garden(severed_on: str, leafed_on: str = "") -> str:
    """
    TOML of places, stock and trees.

    severed_on: day on which the layer was severed. leafed_on: on which layer and maple were seen opening their leaves,
    "" where they were not.
    """
    leaves = seen("leaf-out", leafed_on) if leafed_on else ""
    return (
        STOCK
        + LAWN
        + BENCH
        + SHED
        + tree("layer", "lawn", severed("fair", severed_on), leaves, worth="2")
        + tree("maple", "bench", leaves, worth="2", pot="length_cm = 30, width_cm = 22, depth_cm = 7")
        + tree("olive", "bench", species="Olea europaea", worth="2")
        + tree("azalea", "lawn", species="Rhododendron", pot="volume_l = 3")
        + tree("pine", "bench", species="Pinus", pot="volume_l = 8")
    )
