"""Why a weather source could not be used, in words for the person and one flag for the program."""


def one_line(text: str) -> str:
    """The text on one line, at most 300 characters: what a server says is shown, never trusted."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:300]


class SourceRefused(Exception):
    """
    An answer, or the lack of one, that cannot become a forecast.

    reason: one plain sentence, free of keys and passwords.
    transient: True when asking again later may help (outage, throttling, broken answer); False when the request, the
    place or the file must change first.
    wait_s: how long the source asks to be left alone, where it said so. [s]
    status: the HTTP status of the refusal, or None where it was none.
    """

    def __init__(self, reason: str, transient: bool, wait_s: float | None = None, status: int | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.transient = transient
        self.wait_s = wait_s
        self.status = status
