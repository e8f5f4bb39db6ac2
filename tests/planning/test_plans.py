"""Whole plans: what the trade does comes out, nothing gets worse, and what is promised is what an anew worked-through
machine shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from framevis.deviations import Deviations
from framevis.errors import BadInput
from framevis.frame import BlockSpot, Carriage, Frame, Push, RailSpot, SeatStiffness, Shim, ShimStock, Stage, Tightening
from framevis.observe import view
from framevis.plan import Plan
from framevis.planning.plan_limits import not_free, plan_for
from framevis.planning.report_plan import readings_after
from framevis.rail_shims import known_functions
from framevis.rows import known_part
from framevis.study import Study, work_through
from framevis.verdicts import RANK
from guides import GUIDE_15
from machines import measure, rough, shape
from plankit import (
    BOX,
    STOCK,
    beam,
    constant,
    four,
    frame_of,
    gantry,
    pair,
    portal_of,
    random_study,
    shaped,
    study,
)

LOOSE_SCREWS = replace(GUIDE_15, screw_clearance_um=100.0)
FINE = ShimStock((10.0, 20.0, 40.0), None, 3)
GIVING = SeatStiffness(lateral_n_per_um=20.0)  # plate, screws and walls: what shims can't mend is felt less
BOW = {("own_lateral", "inner"): lambda x: 120.0 * x * (1.0 - x)}
WIDE_RAIL = replace(GUIDE_15, rail_width_mm=45.0)  # 20 µm under one edge turn it by 0.44 mrad
TWIST = {("twist", "left"): lambda x: 2.5 * np.clip(x - 0.3, 0.0, None)}


def shims_after(plan: Plan) -> tuple[Shim, ...]:
    """What lies in the machine after a plan, put together from its fittings."""
    stage = plan.before.stage
    changed = {fitting.spot for fitting in plan.fittings}
    kept = [shim for shim in plan.before.frame.shims_at(stage) if shim.spot not in changed]
    return (*kept, *(Shim(stage, f.spot, f.total_um) for f in plan.fittings if f.layers_um))


def pushes_after(plan: Plan) -> tuple[Push, ...]:
    stage = plan.before.stage
    return (*plan.before.frame.pushes_at(stage), *(Push(stage, p.rail, p.screw, p.push_um) for p in plan.pushes))


def worked_anew(plan: Plan) -> Study:
    """The machine with the plan's shims entered, and every reading as it would be then: estimated and ridden anew."""
    before = plan.before
    frame = replace(before.frame, shims=shims_after(plan), pushes=pushes_after(plan))
    now = known_functions(frame.rails, before.frame.shims_at(before.stage), before.frame.pushes_at(before.stage))
    then = known_functions(frame.rails, frame.shims_at(before.stage), frame.pushes_at(before.stage))
    taken = []
    for readings in before.readings.sweeps:
        parts = view(readings.sweep, readings.station_mm).parts
        change = np.sum([known_part(then, part) - known_part(now, part) for part in parts], axis=0)
        taken.append(replace(readings, values=readings.values + change))
    return work_through(frame, Stage(before.stage, tuple(taken)), before.draws, before.seed)


def verdicts(study: Study) -> list[str]:
    return [block.verdict for carriage in study.carriages for block in carriage.blocks]


def spots(plan: Plan) -> dict[str, tuple[float, ...]]:
    return {str(fitting.spot): fitting.layers_um for fitting in plan.fittings}


def heights_under(plan: Plan, rail: str) -> np.ndarray:
    """(screws, 2) µm under left and right edges of a rail after a plan."""
    high = np.zeros((plan.before.frame.rail(rail).screws, 2))
    for shim in shims_after(plan):
        if isinstance(shim.spot, RailSpot) and shim.spot.rail == rail:
            high[shim.spot.screw - 1] += shim.thickness_um * np.array(
                {"full": (1.0, 1.0), "left": (1.0, 0.0), "right": (0.0, 1.0)}[shim.spot.part]
            )
    return high


# --- what the trade does (common practice)


@pytest.mark.parametrize("stock", [STOCK, ShimStock((40.0,), None, 3)])
def test_an_opened_channel_takes_two_layers_of_40_at_each_block(stock: ShimStock) -> None:
    """80 µm across the block (common practice): at the outer edges, and nothing under the rails."""
    plan = plan_for(shaped(gantry(stock=stock), {("opening", "left"): constant(80.0 / 32.0)}))
    edges = {"outer": "left", "inner": "right"}  # flanges that splay let the outer edges down
    wanted = {f"left/{block.name}/{edges[block.rail.name]}" for block in plan.before.frame.carriages[0].blocks}
    assert spots(plan) == dict.fromkeys(wanted, (40.0, 40.0))
    assert set(verdicts(plan.before)) == {"binding"}
    assert set(verdicts(plan.after)) == {"free"}
    assert plan.pieces == 8
    assert plan.says == ()


@pytest.mark.parametrize("um_across_block", [20.0, 40.0, 60.0])
def test_a_constant_opening_needs_block_shims_only(um_across_block: float) -> None:
    plan = plan_for(shaped(gantry(), {("opening", "left"): constant(um_across_block / 32.0)}))
    assert plan.fittings
    assert not any(fitting.on_rail for fitting in plan.fittings)
    assert set(verdicts(plan.after)) == {"free"}


def test_a_twisted_beam_takes_a_staircase_under_its_rail() -> None:
    """One beam of two twists: roll varies along the travel, so shims go under that rail, as a rising staircase."""
    plan = plan_for(shaped(portal_of(ShimStock((20.0, 40.0), None, 3), WIDE_RAIL), TWIST))
    assert all(fitting.on_rail for fitting in plan.fittings)
    assert [f.spot.rail for f in plan.fittings if isinstance(f.spot, RailSpot)].count("inner") <= 1
    left, right = heights_under(plan, "outer").T
    tilt = right - left  # the twist is to the left's up side: the rail is turned back
    assert np.all(np.diff(tilt) >= 0.0)
    assert tilt[-1] >= 60.0
    assert tilt[0] == 0.0
    assert plan.worst_um[1] < 0.4 * plan.worst_um[0]
    assert sum(RANK[v] for v in verdicts(plan.after)) < sum(RANK[v] for v in verdicts(plan.before))


def test_with_40s_some_stick_remains_that_20s_remove() -> None:
    """On a twisted beam (common practice), and the purchase is named."""
    coarse = plan_for(shaped(portal_of(ShimStock((40.0,), None, 3), WIDE_RAIL), TWIST))
    fine = plan_for(shaped(portal_of(ShimStock((20.0, 40.0), None, 3), WIDE_RAIL), TWIST))
    assert not_free(coarse.after)
    assert len(not_free(fine.after)) < len(not_free(coarse.after))
    assert not not_free(fine.after)
    assert any("With 20 µm pieces as well, every block would be free" in text for text in coarse.says)


# --- pushes


def test_a_bowed_follower_is_pushed_straight() -> None:
    plan = plan_for(shaped(gantry(guide=LOOSE_SCREWS), BOW))
    assert {push.rail for push in plan.pushes} == {"inner"}
    on = plan.before.frame.rail("inner")
    s, pushed = on.screw_stations_mm, np.zeros(on.screws)
    for push in plan.pushes:
        assert push.push_um % 5.0 == 0.0
        assert abs(push.push_um) <= 100.0
        pushed[push.screw - 1] = push.push_um
    left = 120.0 * (s / 600.0) * (1.0 - s / 600.0) + pushed
    assert off_line(s, left) < 0.4 * off_line(s, left - pushed)
    assert sum(RANK[v] for v in verdicts(plan.after)) < sum(RANK[v] for v in verdicts(plan.before))


def off_line(s: np.ndarray, left: np.ndarray) -> float:
    return float(np.abs(left - np.polyval(np.polyfit(s, left, 1), s)).max())


def test_pushes_need_no_shims_at_hand() -> None:
    plan = plan_for(shaped(gantry(stock=None, guide=LOOSE_SCREWS), BOW))
    assert plan.pushes
    assert not plan.fittings
    assert (plan.used, plan.left) == ((), ())


@pytest.mark.parametrize("masters", [(), ("inner",)])
def test_master_rails_stay(masters: tuple[str, ...]) -> None:
    """Of a bow in either rail the follower gets the pushes: the carriage feels the difference."""
    frame = replace(gantry(guide=LOOSE_SCREWS), tightening=Tightening(masters=masters))
    plan = plan_for(shaped(frame, BOW))
    assert {push.rail for push in plan.pushes} == {"outer" if masters else "inner"}


def test_pushes_so_far_leave_less_room() -> None:
    frame = gantry(guide=replace(GUIDE_15, screw_clearance_um=10.0))
    done = tuple(Push("now", "inner", screw, 8.0) for screw in range(1, 16))
    plan = plan_for(shaped(replace(frame, pushes=done), BOW))
    assert plan.pushes
    for push in plan.pushes:
        assert -18.0 <= push.push_um <= 2.0


def test_without_clearance_it_says_what_to_give() -> None:
    plan = plan_for(shaped(gantry(), BOW))
    assert not plan.pushes
    assert any("give its guide's screw_clearance_um to have the pushes" in text for text in plan.says)


def test_only_blocks_pushes_nothing() -> None:
    assert not plan_for(shaped(gantry(guide=LOOSE_SCREWS), BOW), "blocks").pushes


# --- never worse, and as promised


MACHINES = [(kind, seed) for kind in ("one beam", "portal", "two carriages", "pushed") for seed in range(5)]


def machine(kind: str, seed: int) -> Study:
    size = 0.15 + 0.1 * seed
    return random_study(machine_frame(kind), 100 + seed, size, draws=60)


def machine_frame(kind: str) -> Frame:
    if kind == "portal":
        return portal_of(FINE, seats=GIVING)
    if kind == "pushed":
        return gantry(guide=LOOSE_SCREWS, stock=ShimStock((20.0, 50.0), (12, 2), 2))
    if kind == "two carriages":
        rails = pair(beam(700.0, BOX))
        both = [Carriage(n, four(rails), t, bolted_at_mm=t[0]) for n, t in (("a", (80, 300)), ("b", (400, 620)))]
        return frame_of(rails, tuple(both), FINE)
    shims = [
        Shim("now", RailSpot("outer", 3, "left"), 20.0),
        Shim("now", BlockSpot("left", "rear_inner", "full"), 40.0),
    ]
    return gantry(stock=ShimStock((20.0, 40.0), (30, 10), 3), shims=shims, seat_stiffness=GIVING)


@pytest.mark.parametrize(("kind", "seed"), MACHINES)
def test_no_block_gets_worse_and_the_promise_is_kept(kind: str, seed: int) -> None:
    """Twenty random machines; after = the machine with the shims entered, every reading as it would be then."""
    before = machine(kind, seed)
    plan = plan_for(before)
    assert all(RANK[b] <= RANK[a] for a, b in zip(verdicts(before), verdicts(plan.after), strict=True))
    assert plan.worst_um[1] <= plan.worst_um[0] + 1e-9
    assert plan.bound_um <= plan.worst_um[1] + 1e-9
    anew = worked_anew(plan)
    for promised, found in zip(plan.after.carriages, anew.carriages, strict=True):
        for one, other in zip(promised.blocks, found.blocks, strict=True):
            np.testing.assert_allclose(one.drag_ratio, other.drag_ratio, rtol=1e-4)
            assert (one.p_tight, one.p_binding) == pytest.approx((other.p_tight, other.p_binding), abs=1.01 / 60)
    check_stock(plan)


def check_stock(plan: Plan) -> None:
    """Pieces, layers and steps of all that lies in the machine afterwards."""
    stock = plan.before.frame.stock
    assert stock is not None
    used = dict.fromkeys(stock.thickness_um, 0)
    for fitting in plan.fittings:
        assert set(fitting.layers_um) <= set(stock.thickness_um)
        assert fitting.layers_um == tuple(sorted(fitting.layers_um, reverse=True))
    untouched = {str(shim.spot): shim.thickness_um for shim in shims_after(plan)}
    for spot, total in untouched.items():
        layers = spots(plan).get(spot) or (total,)
        for layer in layers:
            used[layer] += 1
    assert dict(plan.used) == used
    for size, left in plan.left:
        count = None if stock.count is None else stock.count[stock.thickness_um.index(size)]
        assert left == (None if count is None else count - used[size])
        assert left is None or left >= 0
    for rail in plan.before.frame.rails:
        changed = any(isinstance(f.spot, RailSpot) and f.spot.rail == rail.name for f in plan.fittings)
        assert not changed or np.abs(np.diff(heights_under(plan, rail.name), axis=0)).max() <= stock.max_step_um + 1e-9


def test_most_random_machines_are_helped() -> None:
    """Otherwise the tests above would hold of a plan that never offers anything."""
    plans = [plan_for(machine(kind, seed)) for kind in ("one beam", "portal") for seed in range(5)]
    assert sum(bool(plan.fittings) for plan in plans if not_free(plan.before)) >= 5


def test_two_runs_are_equal() -> None:
    one, other = (plan_for(machine("one beam", 3)) for _ in range(2))
    assert one.fittings == other.fittings
    assert (one.worst_um, one.bound_um, one.says, one.pushes) == (
        other.worst_um,
        other.bound_um,
        other.says,
        other.pushes,
    )


@pytest.mark.parametrize("seed", range(4))
def test_expected_readings_are_what_the_shimmed_machine_reads(seed: int) -> None:
    """The true shape with the plan's shims, the same instruments set as before, no noise: within 3 u everywhere."""
    frame = portal_of(FINE)
    true = both(rough(frame, seed, 0.05), shape(frame, {("twist", "left"): lambda x: 2.5 * x**2}))
    plan = plan_for(study(frame, true, noise=1.0, seed=seed))
    assert plan.fittings
    known = known_functions(frame.rails, shims_after(plan), pushes_after(plan))
    read = measure(frame, Deviations(true.layout, true.coefficients, known), 40.0, 0.0, seed)
    changed = 0.0
    for each in readings_after(plan):
        s, values = read[each.sweep.name]
        np.testing.assert_array_equal(each.station_mm, s)
        assert np.all(np.abs(each.reading - values) <= 3.0 * each.u)
        before = next(r for r in plan.before.readings.sweeps if r.sweep.name == each.sweep.name)
        changed = max(changed, float(np.abs((each.reading - before.values) / each.u).max()))
    assert changed > 5.0  # it isn't as before


def both(one: Deviations, other: Deviations) -> Deviations:
    return Deviations(one.layout, one.coefficients + other.coefficients, one.known)


# --- shims already fitted


def opened(shims: Sequence[tuple[str, str, float]], stock: ShimStock = STOCK) -> Plan:
    fitted = [Shim("now", BlockSpot("left", block, part), um) for block, part, um in shims]  # type: ignore[arg-type]
    return plan_for(shaped(gantry(stock=stock, shims=fitted), {("opening", "left"): constant(80.0 / 32.0)}))


def test_fitted_shims_count() -> None:
    """Half of it is done: each outer block needs one layer more, of pieces that come to what was in the box."""
    right = [("front_outer", "left", 40.0), ("rear_outer", "left", 40.0)]
    plan = opened(right, ShimStock((40.0,), (8,), 3))
    assert spots(plan)["left/front_outer/left"] == (40.0, 40.0)
    assert {f.now_um for f in plan.fittings if "outer" in str(f.spot)} == {(40.0,)}
    assert plan.left == ((40.0, 0),)
    assert set(verdicts(plan.after)) == {"free"}


def test_shims_that_are_right_stay() -> None:
    done = [
        (f"{end}_{rail}", part, 80.0)
        for end in ("front", "rear")
        for rail, part in (("outer", "left"), ("inner", "right"))
    ]
    plan = opened(done)
    assert not plan.fittings
    assert plan.says[0].startswith("Every block runs free: leave it as it is")


def test_a_shim_under_the_wrong_edge_comes_out() -> None:
    plan = opened([("front_outer", "right", 40.0)])
    assert spots(plan)["left/front_outer/right"] == ()
    assert spots(plan)["left/front_outer/left"] == (40.0, 40.0)
    assert set(verdicts(plan.after)) == {"free"}


def test_shims_under_a_rail_come_out_where_they_do_harm() -> None:
    """A straight beam with a lone shim under one screw."""
    shims = [Shim("now", RailSpot("outer", 7, "left"), 40.0)]
    plan = plan_for(shaped(gantry(shims=shims), {}))
    assert [(str(f.spot), f.layers_um, f.now_um) for f in plan.fittings] == [("outer@7/left", (), (40.0,))]
    assert set(verdicts(plan.after)) == {"free"}
    assert plan.pieces == 0


FITTED = (
    Shim("now", RailSpot("outer", 7, "left"), 10.0),
    Shim("now", BlockSpot("left", "rear_inner", "left"), 10.0),
)
ONLY = {
    "blocks": lambda: shaped(gantry(stock=FINE, shims=FITTED), {("opening", "left"): constant(1.25)}),
    "rails": lambda: shaped(portal_of(FINE, WIDE_RAIL, FITTED), TWIST),
}


@pytest.mark.parametrize("only", ONLY)
def test_only_there(only: str) -> None:
    """What lies elsewhere is neither changed nor forgotten."""
    plan = plan_for(ONLY[only](), only)  # type: ignore[arg-type]
    assert plan.fittings
    assert all(fitting.on_rail == (only == "rails") for fitting in plan.fittings)
    assert verdicts(worked_anew(plan)) == verdicts(plan.after)
    assert plan.bound_um <= plan.worst_um[1] + 1e-9


# --- the box


def test_pieces_run_out() -> None:
    """60 µm across the blocks and eight of 20 µm, where twelve are wanted: more of them is the purchase named."""
    stock = ShimStock((20.0,), (8,), 3)
    plan = plan_for(shaped(gantry(stock=stock), {("opening", "left"): constant(60.0 / 32.0)}))
    assert sum(len(layers) for layers in spots(plan).values()) == 8
    assert plan.left == ((20.0, 0),)
    assert not_free(plan.after)
    assert "With more 20 µm pieces as well, every block would be free" in plan.says[0]


def test_no_more_layers_than_allowed() -> None:
    """80 µm out of 20s, of which two may lie at one edge."""
    plan = opened([], ShimStock((20.0,), None, 2))
    assert max(len(layers) for layers in spots(plan).values()) == 2
    for block in plan.before.frame.carriages[0].blocks:
        lies = {part: spots(plan).get(f"left/{block.name}/{part}", ()) for part in ("full", "left", "right")}
        assert len(lies["full"]) + max(len(lies["left"]), len(lies["right"])) <= 2


def test_nothing_is_offered_where_all_runs_free() -> None:
    free = shaped(gantry(), {("twist", "left"): lambda x: 0.05 * x})
    plan = plan_for(free)
    assert set(verdicts(free)) == {"free"}
    assert not plan.fittings
    assert plan.after is free
    assert plan.says == ("Every block runs free: leave it as it is (--anyway plans for the least misfit).",)


def test_anyway_plans_for_the_least_misfit_but_never_for_nothing() -> None:
    """A channel opened by 10 µm across the block runs free; 10 µm pieces bring its chances to nothing."""
    stock = ShimStock((10.0,), None, 3)
    near = shaped(gantry(stock=stock), {("opening", "left"): constant(11.5 / 32.0)})
    anyway = plan_for(near, anyway=True)
    if anyway.fittings:
        assert anyway.worst_um[1] < anyway.worst_um[0]
        assert not any(fitting.on_rail for fitting in anyway.fittings)
    tight = shaped(gantry(stock=stock), {("opening", "left"): constant(20.0 / 32.0)})
    assert spots(plan_for(tight, anyway=True)) == spots(plan_for(tight))
    none = plan_for(shaped(gantry(stock=stock), {}), anyway=True)
    assert not none.fittings


def test_without_shims_and_clearance_it_says_what_to_list() -> None:
    with pytest.raises(BadInput, match=r"there is no \[shim_stock\]"):
        plan_for(shaped(gantry(stock=None), BOW))
