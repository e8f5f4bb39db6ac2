"""What a ride does to the balls, in the linear carriage, and what shims and pushes would change of it.

Takes a study, gives for each group of carriages that share rails every block's misfit at every station, weighed by
the stiffness of its balls, as a linear function of the heights of shims under every edge and of pushes at every
screw. The carriage is the first Newton step of its equilibrium: best rigid fit by stiffness, seats in series.
The length of a weighed misfit is the root mean square change of the approach of the block's balls, in µm: the square
root of the energy in its contacts, to which its drag goes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from framevis.carriage import HEIGHT, LATERAL, ROLL, YAW, Mechanism
from framevis.deviations import Key
from framevis.frame import BlockSpot, Carriage, Floats, Part, Rail, RailSpot, Spot
from framevis.rail_shims import Curve, beam_through, straight_between
from framevis.ride import felt, mean_ride, positions_of
from framevis.study import Study

NEGLIGIBLE = 1e-5  # of a µm of approach per µm of shim


@dataclass(frozen=True)
class Site:
    """Where shims may go: under a rail at one screw, or between one block and its plate; each has two edges."""

    owner: str  # rail or carriage
    place: int | str  # screw, counted from 1, or block

    @property
    def on_rail(self) -> bool:
        return isinstance(self.place, int)

    def spot(self, part: Part) -> Spot:
        if isinstance(self.place, int):
            return RailSpot(self.owner, self.place, part)
        return BlockSpot(self.owner, self.place, part)


@dataclass(frozen=True, eq=False)
class Group:
    """Carriages that share rails, with all sites that they feel. P places: a block at one of its stations.

    `now_um` (P, 5) the weighed misfit with what is fitted; `per_um` (P, 5, sites, 2) what a µm under the left and the
    right edge of each site changes of it; `push_per_um` (P, 5, screws of `rails`) what a µm of push to the left at
    each screw changes. Softer balls weigh less, by the square root of their stiffness against the stiffest.
    """

    carriages: tuple[str, ...]
    rails: tuple[Rail, ...]
    sites: tuple[Site, ...]
    now_um: Floats
    per_um: Floats
    push_per_um: Floats

    @cached_property
    def site_index(self) -> dict[Site, int]:
        return {site: index for index, site in enumerate(self.sites)}

    @cached_property
    def push_place(self) -> dict[tuple[str, int], int]:
        """Rail and screw → column of `push_per_um`."""
        screws = [(rail.name, screw + 1) for rail in self.rails for screw in range(rail.screws)]
        return {screw: place for place, screw in enumerate(screws)}


def groups(study: Study) -> list[Group]:
    """The carriages of a frame in groups that share rails, in the order of the frame."""
    return [_group(study, together) for together in _sharing_rails(study.frame.carriages)]


def _sharing_rails(carriages: Iterable[Carriage]) -> list[list[Carriage]]:
    found: list[list[Carriage]] = []
    for carriage in carriages:
        mine = {block.rail.name for block in carriage.blocks}
        joined = [carriage]
        for group in [g for g in found if mine & {block.rail.name for c in g for block in c.blocks}]:
            found.remove(group)
            joined = group + joined
        found.append(joined)
    return found


def _group(study: Study, carriages: list[Carriage]) -> Group:
    rails = tuple({block.rail.name: block.rail for c in carriages for block in c.blocks}.values())
    sites = [Site(rail.name, screw + 1) for rail in rails for screw in range(rail.screws)]
    sites += [Site(carriage.name, block.name) for carriage in carriages for block in carriage.blocks]
    stiffest = max(float(_stiffness(study.mechanisms[carriage.name]).max()) for carriage in carriages)
    now, per, push = [], [], []
    for carriage in carriages:
        mechanism = study.mechanisms[carriage.name]
        through = weighed_misfit(mechanism) * np.sqrt(_stiffness(mechanism) / stiffest)[:, None, None]
        positions = positions_of(carriage)
        ride = mean_ride(carriage, study.deviations, positions) - mechanism.block_shims[..., None]
        now.append(_seen(through, ride[..., None])[..., 0])
        on_rails, pushed = _rail_responses(carriage, rails, positions)
        per.append(np.concatenate([_seen(through, on_rails), _block_columns(carriages, carriage, through)], -1))
        push.append(_seen(through, pushed))
    per_um = np.concatenate(per)
    per_um[np.abs(per_um) < NEGLIGIBLE] = 0.0
    shape = (*per_um.shape[:2], len(sites), 2)
    names = tuple(carriage.name for carriage in carriages)
    return Group(names, rails, tuple(sites), np.concatenate(now), per_um.reshape(shape), np.concatenate(push))


def _stiffness(mechanism: Mechanism) -> Floats:
    """Stiffness of one ball of each block under its preload (at least 1 µm), N/µm, (blocks,)."""
    preload = np.array([max(line.guide.preload_interference_um, 1.0) for line in mechanism.lines])
    return np.asarray(np.array([line.stiffness for line in mechanism.lines]) * 1.5 * np.sqrt(preload))


def weighed_misfit(mechanism: Mechanism) -> Floats:
    """(blocks, 5, blocks · 5): each block's weighed misfit per deviation of all blocks' rails.

    With E (balls, 5) the approach of its balls per displacement between block and rail, EᵀE / balls = CᵀC; the misfit
    is C times that displacement, of which the balls take their share where the seats give.
    """
    found = []
    for index, line in enumerate(mechanism.lines):
        against = mechanism.leverage[index] @ mechanism.rigid_fit
        against[:, 5 * index : 5 * index + 5] -= np.eye(5)
        weight = np.linalg.qr(line.basis / np.sqrt(len(line.basis)), mode="r")
        found.append(np.asarray(weight @ mechanism.share_of_block[index] @ against))
    return np.array(found)


def _seen(through: Floats, rides: Floats) -> Floats:
    """Weighed misfits (blocks · S, 5, K) of rides (blocks, 5, S, K)."""
    blocks = through.shape[0]
    seen = through.reshape(blocks * 5, -1) @ rides.reshape(blocks * 5, -1)
    return np.asarray(seen.reshape(blocks, 5, *rides.shape[2:]).swapaxes(1, 2).reshape(-1, 5, rides.shape[3]))


def _rail_responses(carriage: Carriage, rails: tuple[Rail, ...], positions: Floats) -> tuple[Floats, Floats]:
    """Rides (blocks, 5, S, K) of a µm under each edge at each screw (left, right, screw by screw), and of pushes."""
    shims = [_ride_of(carriage, _shim_curves(rail), 2 * rail.screws, positions) for rail in rails]
    pushes = [_ride_of(carriage, _push_curves(rail), rail.screws, positions) for rail in rails]
    return np.concatenate(shims, axis=-1), np.concatenate(pushes, axis=-1)


def _shim_curves(rail: Rail) -> dict[Key, Curve]:
    one = np.eye(rail.screws)
    lift = np.stack([0.5 * one, 0.5 * one], axis=-1).reshape(rail.screws, -1)
    roll = np.stack([one, -one], axis=-1).reshape(rail.screws, -1) / rail.guide.rail_width_mm
    at = rail.screw_stations_mm
    return {("shim_height", rail.name): beam_through(at, lift), ("shim_roll", rail.name): straight_between(at, roll)}


def _push_curves(rail: Rail) -> dict[Key, Curve]:
    return {("push_lateral", rail.name): beam_through(rail.screw_stations_mm, np.eye(rail.screws))}


def _ride_of(carriage: Carriage, curves: dict[Key, Curve], count: int, positions: Floats) -> Floats:
    """What curves bring of the ride (blocks, 5, S, count), relative to where the blocks were bolted."""
    ride = _along(carriage, curves, count, positions)
    if carriage.bolted_at_mm is not None:
        bolted = _along(carriage, curves, count, np.array([carriage.bolted_at_mm]))
        ride[:, (LATERAL, YAW)] -= bolted[:, (LATERAL, YAW)]
    return ride


def _along(carriage: Carriage, curves: dict[Key, Curve], count: int, positions: Floats) -> Floats:
    ride = np.zeros((len(carriage.blocks), 5, positions.size, count))
    for b, components in enumerate(felt(carriage, positions)):
        for c, component in enumerate(components):
            for key in curves.keys() & component.weights.keys():
                ride[b, c] += component.weights[key] * curves[key](component.station_mm, component.derivative)
    return ride


def _block_columns(group: list[Carriage], carriage: Carriage, through: Floats) -> Floats:
    """What a µm under the left and right edge of every block of the group changes of one carriage's misfits."""
    stations = positions_of(carriage).size
    columns = []
    for other in group:
        ride = np.zeros((len(carriage.blocks), 5, 1, 2 * len(other.blocks)))
        if other is carriage:
            for b, block in enumerate(carriage.blocks):
                for edge, side in enumerate((1.0, -1.0)):
                    ride[b, HEIGHT, 0, 2 * b + edge] = 0.5
                    ride[b, ROLL, 0, 2 * b + edge] = side / block.rail.guide.block_width_mm
        columns.append(_seen(through, np.repeat(ride, stations, axis=2)))
    return np.concatenate(columns, axis=-1)
