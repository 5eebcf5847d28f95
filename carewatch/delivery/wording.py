"""What is added to a message because of its way to the person."""

AGAIN = "Still valid: "


def repeat_text(title: str, attempts: int, lease_expired: bool, may_have_arrived: bool = False) -> str:
    """
    The title, opening with AGAIN where the person may have the message already.

    attempts: tries before this one.
    lease_expired: the last taker never said how it ended, so it may have died between sending and noting it.
    may_have_arrived: the last try ended without an answer (Outcome.may_have_arrived).

    Exactly once is not to be had across a network; a double must read as a confirmation, not as a second danger.
    """
    doubtful = attempts > 0 and (lease_expired or may_have_arrived)
    return AGAIN + title if doubtful and not title.startswith(AGAIN) else title


def undelivered_text(count: int) -> str:
    """
    One sentence for the next message that gets through, or "" when nothing was lost.

    count: messages since the last one that got through which no channel took before they became useless.
    """
    if count <= 0:
        return ""
    return (
        "1 earlier message could not be delivered."
        if count == 1
        else f"{count} earlier messages could not be delivered."
    )


def with_undelivered(body: str, count: int) -> str:
    """The body, with the sentence of `undelivered_text` as its last paragraph when something was lost."""
    return "\n\n".join(filter(None, (body, undelivered_text(count))))


def with_link(body: str, link: str) -> str:
    """The body, with the address at which it is answered as its last paragraph; "" for none."""
    return f"{body}\n\nAnswer: {link}" if link else body
