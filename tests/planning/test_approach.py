"""What shims change of a ride, in the linear carriage: against a plain loop over all balls, and finite differences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from framevis.carriage import Mechanism
from framevis.contact import ball_stiffness
from framevis.equilibrium import solve
from framevis.frame import BALL_PITCH, BlockSpot, Carriage, Floats, Push, RailSpot, Shim
from framevis.planning.approach import Group, Site, groups, weighed_misfit
from framevis.ride import mean_ride, positions_of
from framevis.study import Study, refitted
from mechanics.sample_machines import GUIDES, LAYOUTS, UP, carriage
from plankit import beam, four, frame_of, gantry, pair, random_study

STEP_UM = 10.0


def balls(guide) -> Iterator[tuple[Floats, Floats]]:
    """Place (s, t, n) in the block and direction e of every contact: the four contact lines, ball by ball."""
    half, rise, beta = guide.row_spacing_mm / 2.0, guide.row_gap_mm / 2.0, np.radians(guide.contact_angle_deg)
    for k in range(guide.balls_per_row):
        s = (k - (guide.balls_per_row - 1) / 2.0) * BALL_PITCH * guide.ball_diameter_mm
        for side in (1.0, -1.0):
            for level in (1.0, -1.0):
                n = 0.0 if guide.arrangement == "gothic" else level * rise
                sense = -level if guide.arrangement == "X" else level
                yield np.array([s, side * half, n]), np.array([0.0, -side * np.cos(beta), sense * np.sin(beta)])


def rms_approach(guide, moved: Floats) -> float:
    """Root mean square change of approach e·(u + ω × r) of all balls of a block moved by (lateral, height, angles)."""
    u, omega = np.array([0.0, moved[0], moved[1]]), np.array([moved[2], moved[3], moved[4]])
    return float(np.sqrt(np.mean([(e @ (u + np.cross(omega, r))) ** 2 for r, e in balls(guide)])))


def plain_linear_carriage(mechanism: Mechanism, ride: Floats) -> Floats:
    """Displacement of each block against its rail's balls (blocks, 5): springs of all balls, and seats in series."""
    tangents = []
    for block in mechanism.carriage.blocks:
        guide = block.rail.guide
        k = (
            1.5
            * ball_stiffness(guide.ball_diameter_mm, guide.conformity)
            * max(guide.preload_interference_um, 1.0) ** 0.5
        )
        rows = np.array([np.r_[e[1], e[2], np.cross(r, e)] for r, e in balls(guide)])
        tangents.append(k * rows.T @ rows)
    seat = np.diag(mechanism.seat_compliance)
    series = [np.linalg.inv(np.eye(5) + tangent @ seat) @ tangent for tangent in tangents]
    stiff = sum(j.T @ k @ j for j, k in zip(mechanism.leverage, series, strict=True))
    pull = sum(j.T @ k @ r for j, k, r in zip(mechanism.leverage, series, ride, strict=True))
    pose = np.linalg.solve(stiff, pull)
    found = []
    for j, tangent, r in zip(mechanism.leverage, tangents, ride, strict=True):
        found.append(np.linalg.solve(np.eye(5) + seat @ tangent, j @ pose - r))
    return np.array(found)


SEATS = None, 30.0


@pytest.mark.parametrize("seat", SEATS)
@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("arrangement", GUIDES)
def test_length_of_a_weighed_misfit_is_the_rms_change_of_approach(arrangement, layout, seat) -> None:
    from framevis.frame import SeatStiffness

    seats = None if seat is None else SeatStiffness(seat, 2.0 * seat, 20.0, 25.0, 30.0)
    mechanism = Mechanism(carriage(LAYOUTS[layout](GUIDES[arrangement]), seat_stiffness=seats), UP)
    random = np.random.default_rng(5)
    for _ in range(3):
        ride = random.normal(size=(len(mechanism.lines), 5)) * np.array([10.0, 10.0, 0.2, 0.2, 0.2])
        moved = plain_linear_carriage(mechanism, ride)
        found = weighed_misfit(mechanism) @ ride.reshape(-1)
        for block, one, misfit in zip(mechanism.carriage.blocks, moved, found, strict=True):
            assert np.linalg.norm(misfit) == pytest.approx(rms_approach(block.rail.guide, one), rel=1e-9)


def test_energy_in_the_contacts_goes_with_the_squared_misfit() -> None:
    """Small rides: what the nonlinear equilibrium adds to Σ Q δ-energy is half the stiffness times the squares."""
    mechanism = Mechanism(carriage(LAYOUTS["one beam"](GUIDES["O"])), UP)
    random = np.random.default_rng(2)
    ride = random.normal(size=(4, 5)) * np.array([0.02, 0.02, 0.0004, 0.0004, 0.0004])
    k = mechanism.lines[0].stiffness
    count = len(list(balls(mechanism.carriage.blocks[0].rail.guide)))
    delta0 = mechanism.carriage.blocks[0].rail.guide.preload_interference_um
    # about pressed-in balls: Σ (2/5) K δ^2.5 = constant + K δ0^1.5 Σ change + (3/4) K δ0^0.5 Σ change² + …
    squares = np.sum((weighed_misfit(mechanism) @ ride.reshape(-1)) ** 2) * count
    predicted = 0.75 * k * delta0**0.5 * squares
    solved = solve(mechanism, ride[..., None])
    energy = _energy(mechanism, solved, ride) - _energy(mechanism, solve(mechanism, 0.0 * ride[..., None]), 0.0 * ride)
    assert energy == pytest.approx(predicted, rel=0.02)


def _energy(mechanism: Mechanism, solved, ride: Floats) -> float:
    total = 0.0
    for block, leverage, r in zip(mechanism.carriage.blocks, mechanism.leverage, ride, strict=True):
        guide = block.rail.guide
        moved = leverage @ solved.plate[:, 0] - r
        u, omega = np.array([0.0, *moved[:2]]), moved[2:]
        k = ball_stiffness(guide.ball_diameter_mm, guide.conformity)
        for place, e in balls(guide):
            total += 0.4 * k * max(guide.preload_interference_um + e @ (u + np.cross(omega, place)), 0.0) ** 2.5
    return total


def of_ride(study: Study, group: Group) -> Floats:
    """Weighed misfits (P, 5) of a study, straight from its mean ride."""
    found = []
    for name in group.carriages:
        mechanism = study.mechanisms[name]
        ride = mean_ride(mechanism.carriage, study.deviations, positions_of(mechanism.carriage))
        ride = ride - mechanism.block_shims[..., None]
        for through in weighed_misfit(mechanism):
            found.append((through @ ride.reshape(-1, ride.shape[2])).T)
    return np.concatenate(found)


def two_carriages(bolted: float | None = 200.0):
    rails = pair(beam(500.0))
    one = Carriage("one", four(rails), (80.0, 200.0), bolted_at_mm=bolted)
    other = Carriage("other", four(rails), (300.0, 420.0), bolted_at_mm=bolted)
    return frame_of(rails, (one, other), None)


@pytest.mark.parametrize("bolted", [None, 200.0])
def test_shims_and_pushes_by_finite_differences(bolted: float | None) -> None:
    """Every site of two carriages that share their rails: fit a shim, work the ride out anew, compare."""
    study = random_study(two_carriages(bolted), 3, 1.0, draws=2)
    (group,) = groups(study)
    assert group.carriages == ("one", "other")
    np.testing.assert_allclose(of_ride(study, group), group.now_um, atol=1e-9)
    for index, site in enumerate(group.sites):
        for edge, part in enumerate(("left", "right")):
            after = refitted(study, (Shim("now", site.spot(part), STEP_UM),), ())  # type: ignore[arg-type]
            change = (of_ride(after, group) - group.now_um) / STEP_UM
            np.testing.assert_allclose(group.per_um[:, :, index, edge], change, atol=2e-5)
    for (rail, screw), place in group.push_place.items():
        after = refitted(study, (), (Push("now", rail, screw, STEP_UM),))
        change = (of_ride(after, group) - group.now_um) / STEP_UM
        np.testing.assert_allclose(group.push_per_um[..., place], change, atol=2e-5)


def test_a_full_shim_is_both_edges() -> None:
    study = random_study(gantry(400.0, bolted_at_mm=120.0), 1, 1.0, draws=2)
    (group,) = groups(study)
    for site in (Site("inner", 4), Site("left", "rear_outer")):
        after = refitted(study, (Shim("now", site.spot("full"), STEP_UM),), ())
        both = group.per_um[:, :, group.site_index[site]].sum(axis=2)
        np.testing.assert_allclose(both, (of_ride(after, group) - group.now_um) / STEP_UM, atol=4e-5)


def test_fitted_shims_are_in_what_is_felt_now() -> None:
    shims = (
        Shim("now", RailSpot("outer", 5, "left"), 40.0),
        Shim("now", BlockSpot("left", "front_inner", "full"), 20.0),
    )
    bare = random_study(gantry(400.0), 2, 1.0, draws=2)
    (group,) = groups(refitted(bare, shims, ()))
    (without,) = groups(bare)
    high = np.zeros((len(group.sites), 2))
    high[group.site_index[Site("outer", 5)]] = 40.0, 0.0
    high[group.site_index[Site("left", "front_inner")]] = 20.0, 20.0
    brought = without.now_um + without.per_um.reshape(*without.now_um.shape, -1) @ high.ravel()
    np.testing.assert_allclose(group.now_um, brought, atol=1e-3)


def test_where_the_blocks_were_bolted_sideways_shims_do_nothing_there() -> None:
    """A push of the whole rail by the same amount isn't felt by blocks that were bolted after it."""
    for bolted, felt in ((120.0, False), (None, True)):
        study = random_study(gantry(400.0, bolted_at_mm=bolted), 1, 1.0, draws=2)
        (group,) = groups(study)
        places = [place for (rail, _), place in group.push_place.items() if rail == "inner"]
        whole = float(np.abs(group.push_per_um[..., places].sum(axis=2)).max())
        assert whole > 0.05 if felt else whole < 1e-9


def test_carriages_that_share_no_rail_are_planned_apart() -> None:
    rails = pair(beam(400.0))
    others = tuple(replace(rail, name=f"{rail.name}_right") for rail in pair(beam(400.0, name="right", x=300.0)))
    frame = frame_of(
        rails + others,
        (
            Carriage("a", four(rails), (80.0, 320.0)),
            Carriage("b", four(others), (80.0, 320.0)),
            Carriage("c", four((rails[0],)) + four((rails[1],)), (80.0, 320.0)),
        ),
        None,
    )
    found = groups(random_study(frame, 1, 0.5, draws=2))
    assert sorted(group.carriages for group in found) == [("a", "c"), ("b",)]


def test_softer_balls_weigh_less() -> None:
    """A crossbeam on two kinds of guide: what counts is the energy, by the square root of the balls' stiffness."""
    study = random_study(gantry(400.0), 1, 1.0, draws=2)
    rails = pair(beam(400.0))
    small = replace(rails[0].guide, name="small", ball_diameter_mm=1.5)
    mixed = (rails[0], replace(rails[1], guide=small))
    study = random_study(frame_of(mixed, (Carriage("left", four(mixed), (80.0, 320.0)),), None), 1, 1.0, draws=2)
    (group,) = groups(study)
    soft = np.sqrt(
        ball_stiffness(small.ball_diameter_mm, small.conformity)
        / ball_stiffness(rails[0].guide.ball_diameter_mm, rails[0].guide.conformity)
    )
    plain = of_ride(study, group)
    stations = positions_of(study.frame.carriages[0]).size
    ratio = np.linalg.norm(group.now_um, axis=1) / np.linalg.norm(plain, axis=1)
    np.testing.assert_allclose(ratio[: 2 * stations], 1.0, rtol=1e-9)
    np.testing.assert_allclose(ratio[2 * stations :], soft, rtol=1e-9)
