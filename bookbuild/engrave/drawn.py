"""What comes back from the engraver: drawn systems with their boxes in points."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class DrawnSystem:
    """One system on a page of a batch PDF. All lengths in PDF points; y grows downward from the page's top edge.

    `left`…`right` and `top`…`bottom` bound the ink; at `staff_left` the staff lines begin.
    """

    page: int
    left: float
    right: float
    top: float
    bottom: float
    staff_left: float
    staff_height: float
    first_bar: int
    last_bar: int
    turn_ok: bool

    def to_json(self) -> dict[str, Any]:
        """Plain values for the cache."""
        return asdict(self)


@dataclass(frozen=True)
class DrawnExercise:
    """The systems of one exercise and the batch PDF (by content hash) they stand in."""

    batch: str
    systems: tuple[DrawnSystem, ...]

    def to_text(self) -> str:
        """JSON for the cache."""
        return json.dumps({"batch": self.batch, "systems": [system.to_json() for system in self.systems]})

    @classmethod
    def from_text(cls, text: str) -> DrawnExercise:
        """Read `to_text`; raises ValueError, KeyError or TypeError when damaged."""
        data = json.loads(text)
        return cls(data["batch"], tuple(DrawnSystem(**system) for system in data["systems"]))
