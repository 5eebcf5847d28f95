"""Tokens of answer links, and pictures of notices: kept as long as they are of use, and no longer."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from carewatch.sqlite.database import Database
from carewatch.sqlite.pictures import LARGEST, KeptPicture, forget_pictures, keep_picture, picture_of_notice
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.standing import Change, save
from carewatch.sqlite.tokens import (
    FORGOTTEN_AFTER,
    TOKEN_OUTLIVES_NOTICE,
    TokenFound,
    find_token,
    forget_tokens,
    issue_token,
)
from tests.edges.test_sqlite_standing import CALL, NOW, PLAN

SECOND = timedelta(seconds=1)
PICTURE = KeptPicture(b"\x89PNG", "oak-3: frost.")


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database.open(tmp_path / "carewatch.sqlite", NOW) as opened:
        with opened.transaction(NOW) as transaction:
            save(transaction, PLAN)
        yield opened


def test_a_token_is_good_for_its_notice_and_channel_and_is_not_in_the_file(database: Database) -> None:
    until = CALL.useless_after + TOKEN_OUTLIVES_NOTICE
    with database.transaction(NOW) as transaction:
        tokens = [issue_token(transaction, CALL.id, channel) for channel in ("phone", "post")]
        assert [find_token(transaction, token) for token in tokens] == [
            TokenFound("good", CALL.id, "phone", until),
            TokenFound("good", CALL.id, "post", until),
        ]
        # As it may come out of a mail that was typed off.
        assert find_token(transaction, f" {tokens[0].upper()}\n").channel == "phone"
        for wrong in ("", "0" * 32, tokens[0][:-1], tokens[0] + "0", "é" * 32, "%"):
            assert find_token(transaction, wrong) == TokenFound("unknown")
    # 128 bits as hexadecimal digits, never the same.
    assert all(len(token) == 32 for token in tokens)
    assert len(set(tokens)) == 2
    assert database.path is not None
    files = database.path.parent.iterdir()
    assert [each.name for each in files if any(token.encode() in each.read_bytes() for token in tokens)] == []


def test_a_token_ends_three_days_after_its_notice_and_is_told_so_for_a_while(database: Database) -> None:
    last = CALL.useless_after + timedelta(days=3)
    with database.transaction(NOW) as transaction:
        token = issue_token(transaction, CALL.id, "phone")
    with database.transaction(last) as transaction:
        assert find_token(transaction, token).state == "good"
        assert forget_tokens(transaction) == 0
    with database.transaction(last + SECOND) as transaction:
        assert find_token(transaction, token) == TokenFound("too-late", CALL.id, "phone", last)
        assert forget_tokens(transaction) == 0
    with database.transaction(CALL.useless_after + FORGOTTEN_AFTER + SECOND) as transaction:
        assert forget_tokens(transaction) == 1
        assert find_token(transaction, token) == TokenFound("unknown")


def test_a_token_for_no_notice_is_not_issued(database: Database) -> None:
    with pytest.raises(StoreRefused, match="FOREIGN KEY"), database.transaction(NOW) as transaction:
        issue_token(transaction, "00000000000000ff", "phone")


def test_a_picture_is_kept_once_until_its_notice_is_useless(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        assert picture_of_notice(transaction, CALL.id) is None
        assert keep_picture(transaction, CALL.id, PICTURE)
        assert not keep_picture(transaction, CALL.id, KeptPicture(b"another", ""))
        assert picture_of_notice(transaction, CALL.id) == PICTURE
    with database.transaction(CALL.useless_after) as transaction:
        assert forget_pictures(transaction) == 0
    with database.transaction(CALL.useless_after + SECOND) as transaction:
        assert forget_pictures(transaction) == 1
        assert picture_of_notice(transaction, CALL.id) is None


@pytest.mark.parametrize("size", [0, LARGEST + 1])
def test_a_picture_that_is_empty_or_too_large_is_not_kept_and_costs_nothing_else(database: Database, size: int) -> None:
    with database.transaction(NOW) as transaction:
        assert not keep_picture(transaction, CALL.id, KeptPicture(b"x" * size, ""))
        save(transaction, Change(facts={"after": "it"}))
    with database.snapshot(NOW) as snapshot:
        assert picture_of_notice(snapshot, CALL.id) is None


def test_the_largest_picture_is_taken(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        assert keep_picture(transaction, CALL.id, KeptPicture(b"x" * LARGEST, "c" * 1000))
