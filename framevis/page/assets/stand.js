// Where everything stands and how it moves, for carriages at given positions (mm) and a set of causes switched on.
// A motion is {point, axis, shift, lean, roll}: with x = distance along the axis from the point, a place moves by
// shift + lean x + turn × arm, where turn = (roll[0] + roll[1] x) axis + axis × lean. A rigid motion is one of these.

class Stand {
  constructor(machine, stage, positions, causes) {
    this.machine = machine;
    this.motion = stage.motion;
    this.positions = positions;
    this.causes = causes;
    this.carries = new Map();
  }

  // How far a carried beam stands from where it was drawn.
  offset(beamIndex) {
    const beam = this.machine.beams[beamIndex];
    if (!beam.carriers.length) return ZERO;
    const first = this.machine.carriages[beam.carriers[0]];
    const moved = this.positions[beam.carriers[0]] - beam.references[0];
    return add(times(this.machine.beams[first.beam].axes[0], moved), this.offset(first.beam));
  }

  origin(carriage) {
    const beam = this.machine.beams[carriage.beam];
    const at = this.positions[this.machine.carriages.indexOf(carriage)];
    return add(add(beam.origin, times(beam.axes[0], at)), this.offset(carriage.beam));
  }

  // The plate's own pose, without what its beam takes from carriers: {point, shift, turn}.
  pose(index) {
    const rows = this.motion.poses[index];
    const rigid = rigidOf(rows, this.causes, this.positions[index]);
    return { point: add(this.origin(this.machine.carriages[index]), rows.middle), ...rigid };
  }

  // How a carried beam moves with its carriers; null for a beam that nobody carries.
  carry(beamIndex) {
    if (!this.carries.has(beamIndex)) this.carries.set(beamIndex, this.findCarry(beamIndex));
    return this.carries.get(beamIndex);
  }

  findCarry(beamIndex) {
    const beam = this.machine.beams[beamIndex];
    if (!beam.carriers.length) return null;
    const axis = beam.axes[0];
    const start = add(beam.origin, this.offset(beamIndex));
    const x = beam.carriers.map((c) => dot(minus(this.origin(this.machine.carriages[c]), start), axis));
    const middle = x.reduce((a, b) => a + b) / x.length;
    const one = Math.max(...x) - Math.min(...x) < 1;
    const spread = x.map((at) => at - middle);
    const square = spread.reduce((sum, d) => sum + d * d, 0);
    const held = beam.carriers.map((c, i) => this.held(c, add(start, times(axis, one ? middle : x[i]))));
    const mean = (vectors) => times(vectors.reduce(add), 1 / vectors.length);
    const slope = (vectors) => (one ? ZERO : times(vectors.map((v, i) => times(v, spread[i])).reduce(add), 1 / square));
    const turns = held.map((h) => h.turn);
    const lean = one ? cross(mean(turns), axis) : slope(held.map((h) => h.moved));
    return {
      point: add(start, times(axis, middle)),
      axis,
      shift: mean(held.map((h) => h.moved)),
      lean,
      roll: [dot(mean(turns), axis), dot(slope(turns), axis)],
    };
  }

  // How a carrier moves a place: the plate's pose, and what its own beam takes from carriers.
  held(index, place) {
    const plate = this.plate(index);
    return { moved: add(plate.shift, cross(plate.turn, minus(place, plate.point))), turn: plate.turn };
  }

  // A rigid motion about a place with what the carried beam under it adds there.
  under(beamIndex, seat, rigid) {
    const carry = this.carry(beamIndex);
    if (!carry) return rigid;
    const x = dot(minus(seat, carry.point), carry.axis);
    const turn = add(times(carry.axis, carry.roll[0] + carry.roll[1] * x), cross(carry.axis, carry.lean));
    const here = add(carry.point, times(carry.axis, x));
    const shift = add(add(carry.shift, times(carry.lean, x)), cross(turn, minus(rigid.point, here)));
    return { point: rigid.point, shift: add(rigid.shift, shift), turn: add(rigid.turn, turn) };
  }

  plate(index) {
    const carriage = this.machine.carriages[index];
    return this.under(carriage.beam, this.origin(carriage), this.pose(index));
  }

  station(block, carriageIndex) {
    return block.start + block.way * this.positions[carriageIndex];
  }

  // A block rides its own rail at its own station.
  block(carriageIndex, block) {
    const rail = this.machine.rails[block.rail];
    const station = this.station(block, carriageIndex);
    const seat = add(add(rail.origin, times(rail.axes[0], station)), this.offset(rail.beam));
    const rigid = rigidOf(this.motion.rails[block.rail], this.causes, station);
    return this.under(rail.beam, seat, { point: seat, ...rigid });
  }
}

// A rigid motion written as the motion along an axis that the painter takes.
function asMotion({ point, shift, turn }) {
  const axis = [1, 0, 0];
  return { point, axis, shift, lean: cross(turn, axis), roll: [dot(turn, axis), 0] };
}

const STILL = { point: ZERO, axis: [1, 0, 0], shift: ZERO, lean: ZERO, roll: [0, 0] };

// Displacement (µm) of a place by a motion.
function moveOf({ point, axis, shift, lean, roll }, place) {
  const x = dot(minus(place, point), axis);
  const arm = minus(minus(place, point), times(axis, x));
  const turn = add(times(axis, roll[0] + roll[1] * x), cross(axis, lean));
  return add(add(shift, times(lean, x)), cross(turn, arm));
}
