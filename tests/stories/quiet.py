"""The night rest, in words of its own."""

from datetime import datetime

from carewatch.care.garden import NoticeRules


def is_quiet(at: datetime, rules: NoticeRules) -> bool:
    """Whether the garden's clock stands within the quiet hours. at: by the garden's clock."""
    wall = at.time().replace(tzinfo=None)
    if rules.quiet_from < rules.quiet_to:
        return rules.quiet_from <= wall < rules.quiet_to
    return wall >= rules.quiet_from or wall < rules.quiet_to
