"""An invented gantry and a stand-in for the study: known deviation functions, plates fitted to their blocks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from framevis.deviations import CAUSES, Deviations, Layout
from framevis.frame import Beam, Block, Carriage, Frame, Guide, Limits, Material, Rail, Section, locked
from framevis.pictures.geometry import block_solid
from framevis.pictures.warp import block_motion
from framevis.pose import PlatePose
from framevis.verdicts import BlockAssessment, CarriageAssessment

ALUMINIUM = Material("aluminium", 70.0, 23.6e-6)
MINI = Guide(
    "mini15", "gothic", 15.0, 10.0, 43.0, 32.0, 16.0, 6.5, 3.175, 7, 14.4, 0.0, 45.0, 0.53, 1.5, 0.004, 1.0, "M3", 40.0
)
CHANNEL = Section("channel", "channel", 120.0, 60.0, 5.0, "toward_rails", ALUMINIUM)
BACKED = Section("backed", "channel", 120.0, 60.0, 5.0, "away_from_rails", ALUMINIUM)
BOX = Section("box", "box", 100.0, 60.0, 4.0, None, ALUMINIUM)
PLATE = Section("plate", "plate", 100.0, 20.0, 0.0, None, ALUMINIUM)


def make_beam(name, section, start, end, normal=(0, 0, 1), **carried):
    return Beam(name, section, locked(start), locked(end), locked(normal), **carried)


def rails_of(beam, *seats, face_deg=0.0, names=("outer", "inner")):
    many = int(beam.length_mm // 40)
    return tuple(
        Rail(f"{beam.name}_{n}", beam, MINI, seat, 20.0, many, face_deg) for n, seat in zip(names, seats, strict=True)
    )


def carriage_on(name, rails, travel, half=45.0):
    labels = ("outer", "inner", "third", "fourth")
    blocks = tuple(
        Block(f"{end}_{labels[i]}", rail, along)
        for i, rail in enumerate(rails)
        for end, along in (("front", half), ("rear", -half))
    )
    return Carriage(name, blocks, travel)


def make_frame(beams, rails, carriages, **more):
    values = {"name": "Tile glazing table", "length_unit": "mm", "stages": ("as_found", "as_left"), "limits": Limits()}
    values |= {"stock": None, "up": locked([0, 0, 1]), "sweeps": (), "shims": ()} | more
    return Frame(beams=tuple(beams), rails=tuple(rails), carriages=tuple(carriages), **values)


def gantry(**more) -> Frame:
    """Two side beams along Y with a carriage each, which carry a cross-beam along X with a carriage of its own."""
    left = make_beam("left", CHANNEL, [0, 0, 0], [0, 1500, 0])
    right = make_beam("right", CHANNEL, [900, 0, 0], [900, 1500, 0])
    cross = make_beam("cross", BOX, [-80, 750, 88], [980, 750, 88], carried_by=("left", "right"))
    lo, ro, co = rails_of(left, -57.5, 57.5), rails_of(right, 57.5, -57.5), rails_of(cross, 35.0, -35.0)
    carriages = (
        carriage_on("left", lo, (80.0, 1420.0)),
        carriage_on("right", ro, (80.0, 1420.0)),
        carriage_on("tool", co, (120.0, 940.0)),
    )
    return make_frame((left, right, cross), lo + ro + co, carriages, **more)


def polynomial(*coefficients: float, length: float = 1500.0) -> Callable:
    """Σ cᵢ (s / length)ⁱ with its derivatives by s."""
    curve = np.polynomial.Polynomial(coefficients)

    def function(stations, derivative):
        return (curve.deriv(derivative) if derivative else curve)(np.asarray(stations) / length) / length**derivative

    return function


STORY = {
    ("opening", "left"): polynomial(0, 0, 0.4, 1.5),
    ("twist", "left"): polynomial(0, 0.3, 0.6),
    ("bow_lateral", "left"): polynomial(0, 120, -120),
    ("bow_height", "left"): polynomial(0, -80, 80),
    ("own_lateral", "right_inner"): polynomial(0, 320, -320),
    ("bow_height", "right"): polynomial(0, 60, -60),
    ("bow_height", "cross"): polynomial(0, -100, 100, length=1060.0),
    ("shim_height", "left_outer"): polynomial(0, 8),
}


def every_function(frame: Frame, size: float = 1.0) -> dict:
    """Something different in every function of the frame."""
    rng = np.random.default_rng(5)
    keys = [*Layout.of(frame).strips]
    keys += [(kind, rail.name) for rail in frame.rails for kind in ("shim_height", "shim_roll")]
    angles = ("twist", "opening", "own_roll", "shim_roll")
    return {key: polynomial(*rng.normal(size=4) * size * (1.0 if key[0] in angles else 50.0)) for key in keys}


@dataclass(frozen=True, eq=False)
class FakeStudy:
    frame: Frame
    stage: str
    deviations: Deviations
    carriages: tuple[CarriageAssessment, ...]

    def pose(self, carriage_name, position_mm):
        """The rigid motion nearest to that of the blocks' tops, cause by cause."""
        carriage = self.frame.carriage(carriage_name)
        origin = carriage.origin(position_mm)
        rigid = [block_motion(self.deviations, b.rail, carriage.station(b, position_mm)) for b in carriage.blocks]
        points = [
            block_solid(b.rail.guide).vertices @ b.rail.axes + b.rail.point(carriage.station(b, position_mm))
            for b in carriage.blocks
        ]
        arms = np.concatenate(points) - origin
        rows = np.concatenate([np.hstack([np.eye(3), -_cross(arm)]) for arm in arms])
        shift, turn = {}, {}
        for cause in CAUSES:
            wanted = np.concatenate([r.motion(p)[cause] for r, p in zip(rigid, points, strict=True)])
            solution = np.linalg.lstsq(rows, wanted.ravel(), rcond=None)[0]
            shift[cause], turn[cause] = solution[:3], solution[3:]
        return PlatePose(carriage, position_mm, origin, shift, turn)


def _cross(r):
    return np.array([[0, -r[2], r[1]], [r[2], 0, -r[0]], [-r[1], r[0], 0]])


def assess(carriage, verdicts, worst):
    stations = np.linspace(*carriage.travel_mm, 28)
    ratio = 1.0 + np.exp(-(((stations - worst) / 200.0) ** 2))
    blocks = tuple(
        BlockAssessment(b, v, 0.5, 0.1, worst, np.zeros((5, 28)), ratio, ratio, ratio, ratio, 900 * ratio, 9 / ratio)
        for b, v in zip(carriage.blocks, verdicts, strict=True)
    )
    return CarriageAssessment(carriage, stations, blocks)


VERDICTS = (("binding", "tight", "binding", "unsure"), ("free", "tight", "free", "free"), ("free",) * 4)


def make_study(frame=None, known=None, worst=1340.0, stage="as_found"):
    frame = gantry() if frame is None else frame
    layout = Layout.of(frame)
    deviations = Deviations(layout, np.zeros(layout.size), STORY if known is None else known)
    rows = [(c, ("free",) * len(c.blocks)) for c in frame.carriages]
    if [len(c.blocks) for c in frame.carriages] == [4, 4, 4]:
        rows = list(zip(frame.carriages, VERDICTS, strict=True))
    ats = (worst, worst - 100.0, 300.0)
    carriages = tuple(assess(c, v, ats[i % 3]) for i, (c, v) in enumerate(rows))
    return FakeStudy(frame, stage, deviations, carriages)


def without_carriers(frame: Frame) -> Frame:
    return replace(frame, beams=tuple(replace(beam, carried_by=()) for beam in frame.beams))
