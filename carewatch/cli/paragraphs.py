"""Paragraphs that are wrapped at a screen's width, narrow enough for a phone's terminal."""

import textwrap

from rich.console import Console
from rich.text import Text

from carewatch.alerts.wording import unbroken


def wrapped(text: str, width: int, further: str = "") -> list[str]:
    """
    The lines of a paragraph. Ids stay whole, and so do numbers with their units.

    further: what its further lines begin with.
    """
    return textwrap.wrap(unbroken(text), width, subsequent_indent=further, break_on_hyphens=False)


def hanging(screen: Console, text: str, indent: int = 0, bold: str = "", style: str = "") -> None:
    """
    A paragraph that is wrapped at the screen's width, its further lines two columns further in than its first.

    bold: how the text begins, to be set in bold.
    """
    lines = wrapped(text, screen.width - indent, "  ")
    for number, line in enumerate(" " * indent + line for line in lines):
        printed = Text(line, style=style)
        if number == 0 and bold:
            printed.stylize("bold", indent, indent + len(bold))
        screen.print(printed)
