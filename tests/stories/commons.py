"""What several stories share: a layer in its first autumn on a lawn, and the mild days around it."""

from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.weather import Day

LITTLE = "[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = false\n"
# Severed late with few roots and still green: what a frost takes from it is the last food of the year.
LAYER = tree("layer", "lawn", severed("sparse", "2026-09-20"), seen("mature", "2026-10-30"), worth="2")
PINE = tree("pine", "lawn", species="Pinus")
LAYER_ON_A_LAWN = LITTLE + LAWN + LAYER

# From 30 October on; in the night to 5 November the sky clears and the air comes to rest.
MILD = Day(5.0, 12.0, 5.0, cloud=70, wind_ms=3.0)
TO_THE_FOURTH = (MILD, MILD, MILD, MILD, Day(4.0, 10.0, 2.0, cloud=40), Day(2.0, 8.0, -2.0, cloud=10, calm_ms=1.5))
CLEAR_NIGHT = Day(-3.0, 8.0, -4.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
AFTERWARDS = (Day(2.0, 10.0, 3.0, cloud=60), MILD, MILD, MILD, MILD)
