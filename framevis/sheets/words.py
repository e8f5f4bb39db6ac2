"""How a sweep is taken, in words: what to set up, what plus means, how to settle it by touch, where zero is.

Takes a frame and a sweep; gives plain sentences. The signs are those of the format: left and up are plus,
for levels the left side or the far end up; `sign = -1` turns them.
"""

from __future__ import annotations

from framevis.frame import Edge, Frame, PullSweep, Rail, Sweep
from framevis.observe import across_mm
from framevis.say import printable
from framevis.sheets.order import beam_of
from framevis.sheets.stations import AnySweep
from framevis.starting.answers import number
from framevis.units import MM_PER_LENGTH_UNIT

FAR_OFF = 0.5  # cosine: a face leaning more than 60° from up is told to the reader


def title(sweep: AnySweep) -> str:
    """What is done, in a few words."""
    if isinstance(sweep, PullSweep):
        return f"Pull carriage {printable(sweep.carriage.name)} with a spring scale"
    on = _named(sweep)
    return {
        "indicator": f"Indicator along {on}, {_direction(sweep)}",
        "bridge": f"From rail to rail, {_direction(sweep)}: {on}",
        "gap": f"Straightedge and feeler across {on}",
        "mouth": f"Calliper across the mouth of {on}",
        "level_along": f"Level stepped along {on}",
        "level_across": f"Level across {on}",
    }.get(sweep.kind, sweep.kind)


def _named(sweep: Sweep) -> str:
    if sweep.rails:
        names = " and ".join(printable(rail.name) for rail in sweep.rails)
        return f"rail{'s' * (len(sweep.rails) > 1)} {names}"
    return f"beam {printable(sweep.station_beam.name)}"


def _direction(sweep: Sweep) -> str:
    return "sideways" if sweep.direction == "lateral" else "height"


def length(frame: Frame, mm: float) -> str:
    return f"{number(mm / MM_PER_LENGTH_UNIT[frame.length_unit])} {frame.length_unit}"


def zero(frame: Frame, sweep: AnySweep) -> str:
    """Which end is zero, and which way to look."""
    beam = beam_of(sweep)
    at = ", ".join(
        f"{axis} {number(float(value) / MM_PER_LENGTH_UNIT[frame.length_unit])}"
        for axis, value in zip("xyz", beam.start_mm, strict=True)
    )
    what = "Positions of the carriage's origin" if isinstance(sweep, PullSweep) else "Stations"
    ends = f"{what} count from the start of beam {printable(beam.name)}, at {at} ({frame.length_unit}), mark 0"
    return f"{ends}; its end is at {length(frame, beam.length_mm)}. {looking(frame, sweep)}"


def looking(frame: Frame, sweep: AnySweep) -> str:
    """From where left and up are told; a face that doesn't look up on the machine is named."""
    rail = _rail(sweep)
    up = float((beam_of(sweep) if rail is None else rail).axes[2] @ frame.up)
    face = "mounting face" if rail is None or rail.face_deg == 0.0 else "rail's face"
    aside = "" if up > FAR_OFF else f" (on the machine it looks {'down' if up < -FAR_OFF else 'sideways'})"
    return f"Look from 0 to the end as if the {face} were up{aside}: left is on your left."


def _rail(sweep: AnySweep) -> Rail | None:
    if isinstance(sweep, PullSweep):
        return sweep.carriage.blocks[0].rail
    return sweep.rails[0] if sweep.rails else None


def setup(frame: Frame, sweep: AnySweep) -> tuple[str, ...]:
    """What to put where, a sentence each."""
    if isinstance(sweep, PullSweep):
        return _pull(frame, sweep)
    kinds = {
        "indicator": _indicator,
        "bridge": _bridge,
        "gap": _gap,
        "mouth": _mouth,
        "level_along": _level,
        "level_across": _level,
    }
    return kinds[sweep.kind](frame, sweep)


def _indicator(frame: Frame, sweep: Sweep) -> tuple[str, ...]:
    rail = sweep.rails[0]
    name, guide = printable(rail.name), rail.guide
    height = f", {length(frame, guide.ball_height_mm)} above the rail's seat" if sweep.direction == "lateral" else ""
    carried = f"The indicator is carried along rail {name} by its block, stylus close to the block"
    if sweep.reference == "face":
        return f"{carried}, on the beam's own side at the level of the rail's seat.", "Wipe that side; stone off burrs."
    if sweep.reference == "wire":
        wire = "Stretch the wire along the rail, clear of everything, and note its tension."
        sag = ("In height it sags by w L² / 8 T in the middle: give that as error_csv of this sweep.",)
        return wire, *(sag if sweep.direction == "height" else ()), f"{carried}{height}, on the wire."
    edge = "Straightedge along the rail on two supports 0.577 of its length apart, ends set to about the same reading."
    turned = (
        "This is the run with the straightedge TURNED OVER: about its long axis, the same end at 0, so that the same "
        "edge looks the other way; plunger in then means the other way too.",
    )
    return edge, f"{carried}{height}, square to the straightedge.", *(turned if sweep.reversed else ())


def _bridge(frame: Frame, sweep: Sweep) -> tuple[str, ...]:
    a, b = (printable(rail.name) for rail in sweep.rails)
    first = f"One block on rail A ({a}) carries a bar, square to the rail, to a block on rail B ({b}) beside it."
    what = f"The indicator on the bar reads rail B {_direction(sweep)}, less rail A."
    drawn = f"It is set absolutely, against the drawn distance of {length(frame, abs(across_mm(*sweep.rails)))}."
    zeroed = drawn if sweep.absolute else "Where it is zeroed doesn't matter; don't touch it on the way."
    return first, what, zeroed


def _edge(edge: Edge, sweep: Sweep) -> str:
    """An edge by the side on which it is seen from the sweep's own zero end."""
    same = float(edge.rail.axes[1] @ sweep.rails[0].axes[1]) > 0.0
    side = edge.side if same else {"left": "right", "right": "left"}[edge.side]
    return f"the {side} edge of the top on rail {printable(edge.rail.name)}"


def _gap(frame: Frame, sweep: Sweep) -> tuple[str, ...]:
    one, other = sweep.touches
    assert sweep.feeler_at is not None
    on = "block" if sweep.span_mm is None else f"{length(frame, sweep.span_mm)} wide"
    return (
        f"Straightedge across the {on} tops: it touches {_edge(one, sweep)} and {_edge(other, sweep)}.",
        f"The feeler goes in at {_edge(sweep.feeler_at, sweep)}.",
        "go: the thickest feeler that goes in; no-go: the thinnest that doesn't. Wipe tops and feelers.",
    )


def _mouth(frame: Frame, sweep: Sweep) -> tuple[str, ...]:
    return (
        f"Calliper across the mouth of {_named(sweep)}, {length(frame, sweep.depth_at_mm)} inside the flanges' tips.",
    )


def _level(frame: Frame, sweep: Sweep) -> tuple[str, ...]:
    same = () if sweep.instrument is None else (_same_way_round(sweep),)
    base = "" if sweep.base_mm is None else f", its feet {length(frame, sweep.base_mm)} apart"
    if sweep.kind == "level_along":
        return f"Level along {_named(sweep)}{base}; the station is its middle.", *same
    on = ("on its mounting face", "on a block that is carried along", "on one block of each")[len(sweep.rails)]
    return f"Level across {_named(sweep)}{base}, {on}; read it when it has settled.", *same


def _same_way_round(sweep: Sweep) -> str:
    """A level's own zero is shared by the sweeps that name it: it counts from one end of the level."""
    ends = ("to the left", "to the right") if sweep.kind == "level_across" else ("to the far end", "toward 0")
    end = ends[0 if sweep.sign > 0.0 else 1]
    name = printable(sweep.instrument or "")
    return f"Mark one end of instrument {name} and keep it {end} here: all such sweeps share its zero error."


def _pull(frame: Frame, sweep: PullSweep) -> tuple[str, ...]:
    name = sweep.carriage.name
    shared = [beam for beam in frame.beams if name in beam.carried_by and len(beam.carried_by) > 1]
    others = (
        f"It is to run by itself: uncouple beam {printable(beam.name)} from carriage {printable(other)}."
        for beam in shared
        for other in beam.carried_by
        if other != name
    )
    return (
        *others,
        "Drive disconnected. Hook the scale to the middle of the carriage; pull slowly and steadily along the travel.",
        "breakaway: what sets it going; running: what keeps it going. Forth is toward higher positions, back toward 0.",
        "Before that, each block alone on the bare rail: enter those as bare_block_n of this sweep in frame.toml.",
    )


def plus(frame: Frame, sweep: AnySweep) -> str:
    """What a positive reading means."""
    if isinstance(sweep, PullSweep):
        return "Forces have no sign: there is a column for each way."
    if sweep.kind == "gap":
        return "A gap is zero or more, it has no sign."
    if sweep.kind == "mouth":
        return "More is a wider mouth: the channel has opened."
    return f"Plus means: {_plus_means(sweep)}."


def _plus_means(sweep: Sweep) -> str:
    up = sweep.sign > 0.0
    if sweep.kind == "level_along":
        return f"the {'far end' if up else 'end toward 0'} of the level is up"
    if sweep.kind == "level_across":
        return f"the {'left' if up else 'right'} side is up"
    name = printable(sweep.rails[-1].name)
    who = f"rail B ({name})" if sweep.kind == "bridge" else f"rail {name}"
    if sweep.direction == "height":
        return f"{who} is {'higher' if up else 'lower'}, {'away from' if up else 'toward'} its seat's beam"
    return f"{who} is further to the {'left' if up else 'right'}{_apart(sweep)}"


def _apart(sweep: Sweep) -> str:
    """Of a bridge, whether plus brings the rails nearer or apart."""
    if sweep.kind != "bridge":
        return ""
    b_is_left = across_mm(*sweep.rails) > 0.0
    return f", the rails {'further apart' if b_is_left == (sweep.sign > 0.0) else 'nearer together'}"


def touch(sweep: AnySweep) -> str | None:
    """How the sign is settled before the first reading; None where there is none."""
    if isinstance(sweep, PullSweep) or sweep.kind in {"gap", "mouth"}:
        return None
    up = sweep.sign > 0.0
    turn = "set sign = -1" if up else "take sign = -1 out"
    fall = f"The reading must grow; if it falls, {turn} for this sweep in frame.toml."
    if sweep.kind == "level_along":
        return f"Settle the sign by touch: lift its {'far' if up else 'near'} foot with a slip of paper. {fall}"
    if sweep.kind == "level_across":
        return f"Settle the sign by touch: lift its {'left' if up else 'right'} foot with a slip of paper. {fall}"
    press = "let the stylus out" if sweep.reversed else "press the stylus in"
    other = "do the opposite where your indicator looks the other way"
    return f"Settle the sign by touch: with the indicator as drawn {press} ({other}). {fall}"
