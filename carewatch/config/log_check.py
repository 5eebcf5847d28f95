"""What contradicts itself in the care log that the files hold: refused where it cannot be, told where it may be."""

from carewatch.care.contradictions import Contradiction, contradictions
from carewatch.care.garden import Garden
from carewatch.config.document import Document
from carewatch.config.positions import Location
from carewatch.config.problems import ConfigProblem


def log_problems(garden: Garden, document: Document) -> tuple[list[ConfigProblem], list[str]]:
    """
    Problems and warnings of the entries of the files.

    garden: built from `document`. What is missing in the files may stand in the database, so it is a warning only.
    """
    problems: list[ConfigProblem] = []
    warnings: list[str] = []
    for number, tree in enumerate(garden.trees):
        places = _places(document, number)
        for found in contradictions(tree, garden.log):
            location = places.get(found.entry.origin, ("tree", number))
            if found.certain:
                accepted = found.remedy[:1].lower() + found.remedy[1:].rstrip(".")
                problems.append(document.problem(location, f"cannot be: {found.what}", accepted))
            else:
                warnings.append(_warning(found))
    return problems, warnings


def _places(document: Document, number: int) -> dict[str, Location]:
    """Where each entry of a tree stands, by its origin."""
    trees = document.content.get("tree", ())
    works = trees[number].get("work", ())
    return {
        document.origin(("tree", number, "work", index)): ("tree", number, "work", index) for index in range(len(works))
    }


def _warning(found: Contradiction) -> str:
    return f"{found.entry.origin}: {found}"
