"""Days and names as the sentences of tasks have them."""

from datetime import date

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_of(day: date) -> str:
    """Day, month and year."""
    return f"{short_day(day)} {day.year}"


def short_day(day: date) -> str:
    """Day and month."""
    return f"{day.day} {MONTHS[day.month - 1]}"
