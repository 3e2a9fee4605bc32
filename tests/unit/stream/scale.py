"""A ledger with a cylinder on a scale, for tests."""

from chargeassist.model.events import Mark, StepRecorded
from chargeassist.stream.ledger import Ledger


class Scale:
    """A ledger with a cylinder on a scale, ticked once a second."""

    def __init__(self, kg: float = 10.0) -> None:
        self.ledger = Ledger(2.0)
        self.kg = kg
        self.t = 0.0
        self.recorded: list[StepRecorded] = []

    def run(self, seconds: int, kg_per_s: float = 0.0, *, silent: bool = False) -> None:
        for _ in range(seconds):
            self.t += 1.0
            self.kg -= kg_per_s
            self._keep(self.ledger.tick(self.t, None if silent else self.kg))

    def mark(self, mark: Mark) -> None:
        self.recorded.extend(self.ledger.take(mark))

    def _keep(self, step: StepRecorded | None) -> None:
        if step is not None:
            self.recorded.append(step)

    @property
    def masses(self) -> list[float | None]:
        return [step.mass_kg for step in self.ledger.steps]
