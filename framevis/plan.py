"""A plan of correction: what lies at each spot afterwards, how far rails are pushed, what it brings.

Filled by `planner`, read by every outlet. `before` and `after` are studies with the same readings, estimate and
draws; `after` has the plan's shims and pushes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from framevis.frame import RailSpot, Spot
from framevis.study import Study

Where = Literal["blocks", "rails"]


@dataclass(frozen=True)
class Fitting:
    """One spot at which something is done: the layers (µm, thickest first) afterwards and those that lie there now."""

    spot: Spot
    layers_um: tuple[float, ...]
    now_um: tuple[float, ...] = ()

    @property
    def total_um(self) -> float:
        return sum(self.layers_um)

    @property
    def on_rail(self) -> bool:
        return isinstance(self.spot, RailSpot)


@dataclass(frozen=True)
class RailPush:
    """How far a rail is to be pushed at one screw, µm to the left (negative: to the right) along its own beam."""

    rail: str
    screw: int
    push_um: float


@dataclass(frozen=True, eq=False)
class Plan:
    """`fittings` in the order of work. `pieces`: how many lie at these spots afterwards; `used`, `left`: pieces of each
    thickness (µm) in the machine and in the box after it (None: unlimited), in the order of the stock.

    `worst_um`: the root mean square change of the approach of the worst block's balls, in the linear carriage, before
    and after; `bound_um` is the proven limit below which no plan can bring it. `optimal`: whether `worst_um` is proven
    to be the least within `shim_search.TOLERANCE_UM` and the number of pieces the least for it.
    """

    before: Study
    after: Study
    fittings: tuple[Fitting, ...]
    pushes: tuple[RailPush, ...]
    used: tuple[tuple[float, int], ...]
    left: tuple[tuple[float, int | None], ...]
    worst_um: tuple[float, float]
    bound_um: float
    optimal: bool
    says: tuple[str, ...] = ()  # what limits it, which purchase would help, in whole sentences

    @property
    def pieces(self) -> int:
        return sum(len(fitting.layers_um) for fitting in self.fittings)
