"""What one benchmark found, against what was promised."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Measured:
    """
    One figure of one benchmark.

    value, budget: what was measured, and the most that it may be, both in `unit`.
    note: what helps to read the figure on another machine, such as its ratio to something known.
    """

    name: str
    value: float
    budget: float
    unit: str
    note: str = ""

    @property
    def kept(self) -> bool:
        """True when the figure is a number within its budget."""
        return self.value <= self.budget

    def line(self) -> str:
        """The figure as one line of a report."""
        verdict = "kept" if self.kept else "OVER BUDGET"
        text = f"{self.name:<24} {self.value:8.3f} {self.unit} of {self.budget:g} {self.unit}  {verdict}"
        return f"{text}  ({self.note})" if self.note else text
