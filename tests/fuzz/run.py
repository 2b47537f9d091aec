"""How many cases are run, from which seed, and what came of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import process_time

import pytest

CASES_IN_CI = 300
PLUGIN = "fuzz run"


@dataclass
class Run:
    """A run: of CI where seed is None, the same each time."""

    cases: int = CASES_IN_CI
    seed: int | None = None
    faults: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    began: float = field(default_factory=process_time)
    done: int = 0

    def share(self, part: float) -> int:
        """How many of the cases go to one kind."""
        self.done = round(self.cases * part)
        return self.done

    def tell(self, kind: str, targets: int) -> None:
        """Say how one kind went."""
        took = process_time() - self.began
        self.began = process_time()
        line = f"{kind}: {self.done} cases over {targets}, {len(self.faults)} faults, {took:.0f} s"
        self.lines.append(line)
        print(line, flush=True)

    def told(self) -> str:
        """Every fault, with what was sent."""
        return "\n\n".join(self.faults)


def run_of(request: pytest.FixtureRequest) -> Run:
    """The run asked for; else the one of CI."""
    asked = request.config.pluginmanager.get_plugin(PLUGIN)
    return Run() if asked is None else Run(asked.cases, asked.seed)
