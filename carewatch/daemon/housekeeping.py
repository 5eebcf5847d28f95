"""What is thrown away once a day, so that the database of a home server stays small."""

import logging
from datetime import datetime

from carewatch.daemon.deliver import LOOK_BACK
from carewatch.daemon.state import KEPT_HOUSE_AT, QUEUED_LATER, moment
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts, put_facts
from carewatch.sqlite.forecasts import forget_forecasts
from carewatch.sqlite.pictures import forget_pictures
from carewatch.sqlite.tokens import forget_tokens

LOG = logging.getLogger(__name__)


def keep_house(database: Database, now: datetime) -> int:
    """
    How many forecasts, tokens, pictures and marks were thrown away. now: aware.

    Raises StoreRefused.
    """
    with database.transaction(now) as transaction:
        facts = all_facts(transaction)
        marks = [name for name in facts if name.startswith(QUEUED_LATER)]
        old = [name for name in marks if (at := moment(facts, name)) is None or now - at > LOOK_BACK]
        put_facts(transaction, {**dict.fromkeys(old), KEPT_HOUSE_AT: now})
        gone = forget_forecasts(transaction) + forget_tokens(transaction) + forget_pictures(transaction) + len(old)
    if gone:
        LOG.info("Threw away %d things that are not kept.", gone)
    return gone
