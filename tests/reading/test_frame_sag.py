"""The keys from which the sag of a wire or straightedge is known: what is refused, and which way it counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from framevis.errors import BadInput
from framevis.frame import Sweep
from framevis.reading.frame_file import read_frame
from machines import Tree, portal, write

WIRE: Tree = {"reference": "wire", "wire_n_per_m": 0.05, "wire_tension_n": 100.0}
EDGE: Tree = {"reference": "straightedge", "straightedge_n_per_m": 30.0, "straightedge_ei_nm2": 8000.0,
              "supports": [211.3, 788.7], "straightedge_ends": [0.0, 1000.0]}  # fmt: skip


def sweep_with(folder: Path, more: Tree, direction: str = "height", **frame: object) -> Sweep:
    tree = portal() | frame
    tree["sweep"] = {"s": {"kind": "indicator", "rail": "a", "direction": direction, "u_um": 1.0, **more}}
    return read_frame(write(folder / "machine", tree, {})).sweeps[0]


def test_a_wire_hangs_down(tmp_path: Path) -> None:
    sweep = sweep_with(tmp_path, WIRE)
    assert sweep.error is not None
    assert sweep.sag_um == pytest.approx(0.05 * 1000.0**2 / (8.0 * 100.0))  # wL²/8T over the whole beam
    assert np.interp(500.0, sweep.error.station_mm, sweep.error.error_um) == pytest.approx(-sweep.sag_um)


def test_sideways_it_does_not_sag_and_seen_from_below_it_sags_upward(tmp_path: Path) -> None:
    sideways = sweep_with(tmp_path / "side", WIRE, "lateral")
    assert (sideways.error, sideways.sag_um) == (None, 0.0)
    below = sweep_with(tmp_path / "below", WIRE, up=[0.0, 0.0, -1.0])
    assert below.error is not None
    assert below.error.error_um.max() == pytest.approx(62.5)


def test_a_straightedge_on_its_airy_points(tmp_path: Path) -> None:
    sweep = sweep_with(tmp_path, EDGE)
    assert sweep.error is not None
    at_supports = np.interp(EDGE["supports"], sweep.error.station_mm, sweep.error.error_um)
    assert at_supports == pytest.approx([0.0, 0.0], abs=1e-3)
    ends = sweep.error.error_um
    assert abs(ends[1] - ends[0]) < 2e-3  # level: 0.577 L apart


def test_turned_over_it_hangs_as_before(tmp_path: Path) -> None:
    one, turned = sweep_with(tmp_path / "one", EDGE), sweep_with(tmp_path / "turned", {**EDGE, "reversed": True})
    assert one.error is not None
    assert turned.error is not None
    assert turned.error.error_um == pytest.approx(-one.error.error_um)  # a reversed run takes its error the other way


@pytest.mark.parametrize(
    ("more", "what"),
    [
        ({"reference": "wire", "wire_n_per_m": 0.05}, "s.wire_tension_n: is missing"),
        ({"reference": "straightedge", **{k: v for k, v in WIRE.items() if k != "reference"}}, "does not belong to"),
        ({**EDGE, "supports": [700.0, 200.0]}, "s.supports: must rise"),
        ({**EDGE, "straightedge_ends": [300.0, 1000.0]}, "do not hold the supports between them"),
        ({k: v for k, v in EDGE.items() if k != "supports"}, "s.supports: is missing"),
        ({**WIRE, "wire_tension_n": 0.01}, "gives a sag of 625 mm"),
        ({**WIRE, "straightedge_ends": [0.0, 1000.0]}, 'does not belong to reference = "wire"'),
    ],
)
def test_what_is_refused(tmp_path: Path, more: Tree, what: str) -> None:
    with pytest.raises(BadInput) as bad:
        sweep_with(tmp_path, more)
    assert what in str(bad.value)


def test_only_indicators_take_such_keys(tmp_path: Path) -> None:
    tree = portal()
    tree["sweep"] = {"s": {**tree["sweep"]["ab_lateral"], "wire_n_per_m": 0.05}}
    with pytest.raises(BadInput, match="a bridge sweep takes no wire_n_per_m"):
        read_frame(write(tmp_path, tree, {}))
