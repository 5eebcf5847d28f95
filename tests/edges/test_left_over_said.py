"""What stays as it is after a danger is said by whole cycles until it has arrived, also past a channel that is down."""

import json
from datetime import timedelta

from carewatch.daemon.left_over import LEFT_OVER
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import put_facts
from tests.edges.watched import MORNING, Watched, kinds

STAYS = "The frost is over: nothing to do, let pine stay in shed for the winter."
DAY = timedelta(days=1)


def test_a_sentence_is_in_the_rounds_of_each_day_until_they_arrive(garden: Watched) -> None:
    """Refused on the first day, taken on the second, and then forgotten."""
    garden.plant(trees=("pine",))
    garden.once(MORNING - timedelta(hours=1, minutes=30))
    with Database.open(garden.database, MORNING) as database, database.transaction(MORNING) as transaction:
        put_facts(transaction, {LEFT_OVER: json.dumps([[STAYS, "2026-11-04", ""]])})
    garden.web.sink_status["phone"] = 404
    first = garden.once(MORNING)
    (notice,) = [notice for notice in garden.notices() if notice.kind == "rounds"]
    assert (kinds(first), STAYS in notice.body) == (["rounds"], True)
    assert json.loads(garden.facts()[LEFT_OVER]) == [[STAYS, "2026-11-04", notice.id]]
    # The same day has had its rounds.
    assert kinds(garden.once(MORNING + timedelta(hours=1))) == []
    garden.web.sink_status["phone"] = 200
    second = garden.once(MORNING + DAY)
    assert (kinds(second), second["attempts"][0]["ending"]) == (["rounds"], "sent")
    assert STAYS in garden.notices()[-1].body
    assert kinds(garden.once(MORNING + DAY + timedelta(hours=1))) == []
    assert LEFT_OVER not in garden.facts()
