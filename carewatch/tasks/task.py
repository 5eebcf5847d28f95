"""A task of the long clock: what, in which window, why, what moves it, and how it stands."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

# Every kind of task, with what is to be done in the words of an instruction.
KINDS: Mapping[str, str] = {
    "tie-check": "look at the ties",
    "untie": "take the ties off",
    "first-root-work": "first root work",
    "look-for-roots": "look for roots in the sleeve",
    "sever": "sever the layer",
    "wire-check": "look at the wire",
    "wire-off": "take the wire off",
    "sacrifice-off": "take the sacrifice off",
    "end-shade": "end the shade",
    "second-shade": "shade it at flush",
    "resume-feeding": "feed again",
    "paste-check": "look at the cut paste",
    "turn": "turn it to the light",
    "winter-place": "into winter quarters",
    "spring-out": "out of winter quarters",
    "uncover": "uncover the pot",
    "summer-place": "before the first heat",
}
# Tasks that are looks: the log says that they were done by `checked`, and they come again.
LOOKS = ("look-for-roots", "tie-check", "wire-check", "paste-check", "turn")
# Tasks that make no sense any more when their time is over; the others stay overdue until they are done.
ONLY_IN_TIME = ("end-shade", "second-shade", "resume-feeding", "paste-check", "turn")
# What is done for the winter where there are no quarters for a tree.
BANK = "bank the pot to its rim"
# What is done instead where there is nothing to bank it with, and what is to be known of it (measures.toml: a jacket is
# one more night; common practice).
WRAP = "wrap the pot"
WRAP_HOLDS = (
    "A wrapped pot holds through a night or two, not through a long frost: for that it needs bark or soil around it, "
    "or a place under a roof."
)
# What is done before the heat where a tree stays where it stands.
SHADE_POT, SHADE_CROWN = "shade the pot", "shade pot and crown"
# Said of a winter plan that rests on no winter of the garden.
BY_REGION = "No past winter of this garden is on record yet: its cold is reckoned by what is usual around here."
GUESSED = (
    "No past winter of this garden is on record yet: it is reckoned as cold as they come in this part of the world, "
    "rather too early than too late."
)
STATES = ("overdue", "due", "soon", "later", "put-off", "done")


@dataclass(frozen=True)
class KindDay:
    """A day of the forecast that suits a task; why: what makes it so, in a few words."""

    on: date
    why: str


@dataclass(frozen=True)
class Draft:
    """
    A task before it is known how it stands.

    about: the branch, the place or the like that is meant, or "". done_on: the day on which the log has it done.
    stays: where the tree stands is its place until then.
    """

    kind: str
    first: date
    best: date
    last: date
    reason: str
    moves: str
    source: str
    about: str = ""
    done_on: date | None = None
    stays: bool = False


@dataclass(frozen=True)
class Task:
    """
    One task of one tree.

    place: where the tree stands. about: the branch, the place or the like that is meant, or "".
    first, best, last: window, all included. reason, moves: why, and what moves it; sentences.
    state: one of STATES; done_on, put_off_to: days, where it is so. source: of its numbers.
    kindest: days of the forecast within the window that suit it, the kindest first; unkind: why none does, or "".
    stays: where the tree stands is its place until then.
    """

    tree: str
    place: str
    kind: str
    about: str
    first: date
    best: date
    last: date
    reason: str
    moves: str
    state: str
    done_on: date | None
    put_off_to: date | None
    source: str
    kindest: tuple[KindDay, ...] = ()
    unkind: str = ""
    stays: bool = False

    @property
    def title(self) -> str:
        """What is to be done, in a few words."""
        if self.kind == "winter-place":
            stays = self.about in (BANK, WRAP)
            return f"{self.about if stays else f'into {self.about}'} for the winter"
        if self.kind == "summer-place":
            stays = self.about in (SHADE_POT, SHADE_CROWN)
            return f"{self.about if stays else f'into {self.about}'} {KINDS[self.kind]}"
        return f"{KINDS[self.kind]} ({self.about})" if self.about else KINDS[self.kind]


def by_urgency(task: Task) -> tuple[int, date, date, str, str, str]:
    """Sorts the most urgent task first: overdue, due, soon, later; within them the one whose window closes first."""
    ahead = task.last if task.state in ("overdue", "due") else task.first
    return STATES.index(task.state), ahead, task.last, task.tree, task.kind, task.about
