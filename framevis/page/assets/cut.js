// The cross-section of a beam at a station, in the beam's own axes (t to the left of the page's reader, n up).
// The beam's own bow there is left out, so that what remains fills the picture.

function loopsOf(profile) {
  const after = new Map(profile.outline.map(([a, b]) => [a, b]));
  const loops = [];
  while (after.size) {
    const start = after.keys().next().value;
    const loop = [];
    for (let at = start; after.has(at); ) {
      loop.push(at);
      const next = after.get(at);
      after.delete(at);
      at = next;
    }
    loops.push(loop);
  }
  return loops;
}

class Cut {
  constructor(machine, stage, positions, causes, beamIndex, station) {
    Object.assign(this, { machine, stage, positions, causes, beamIndex, station });
    this.beam = machine.beams[beamIndex];
    this.stand = new Stand(machine, stage, positions, causes);
    const bow = causes.includes("bow") ? rigidOf(stage.motion.beams[beamIndex], ["bow"], station) : { shift: ZERO };
    this.bow = bow.shift;
  }

  // A displacement (µm, machine axes) in the beam's (t, n), without the bow.
  flat(moved) {
    const own = minus(moved, this.bow);
    return [dot(own, this.beam.axes[1]), dot(own, this.beam.axes[2])];
  }

  place(point) {
    const from = minus(point, this.beam.origin);
    return [dot(from, this.beam.axes[1]), dot(from, this.beam.axes[2])];
  }

  // All bodies that are cut: {kind, verdict, loops of {at, moved}}.
  bodies() {
    return [this.cutBeam(), ...this.cutRails(), ...this.cutCarriages()];
  }

  cutBeam() {
    const rows = this.stage.motion.beams[this.beamIndex];
    const { points } = this.beam.profile;
    const corner = (i) => {
      const place = [this.station, ...points[i]];
      const moves = this.causes.map((cause) => displacedBy(rows, this.beam, cause, place, this.beam.gamma && this.beam.gamma[i]));
      return { at: points[i], moved: this.flat(moves.reduce(add, ZERO)) };
    };
    return { kind: "beam", loops: loopsOf(this.beam.profile).map((loop) => loop.map(corner)) };
  }

  cutRails() {
    return this.machine.rails.filter((rail) => this.covers(rail)).map((rail) => {
      const rows = this.stage.motion.rails[this.machine.rails.indexOf(rail)];
      const rigid = rigidOf(rows, this.causes, this.station);
      return { kind: "rail", loops: this.onFace(rail, rail.profile, rigid, this.station) };
    });
  }

  covers(rail) {
    return this.machine.beams[rail.beam] === this.beam && rail.ends[0] <= this.station && this.station <= rail.ends[1];
  }

  // Loops of a profile on a rail's face that moves rigidly about the seat at `seated`.
  onFace(rail, profile, rigid, seated) {
    const seat = add(rail.origin, times(rail.axes[0], this.station));
    const about = add(rail.origin, times(rail.axes[0], seated));
    return loopsOf(profile).map((loop) => loop.map((i) => {
      const point = add(seat, fromAxes(rail.axes, 0, ...profile.points[i]));
      const moved = add(rigid.shift, cross(rigid.turn, minus(point, about)));
      return { at: this.place(point), moved: this.flat(moved) };
    }));
  }

  cutCarriages() {
    return this.machine.carriages.flatMap((carriage, c) => {
      const here = carriage.blocks.filter((block) => this.cutsBlock(block, c));
      const blocks = here.map((block) => this.cutBlock(carriage, c, block));
      const plate = here.length || this.cutsPlate(carriage, c) ? this.cutPlate(carriage, c) : [];
      return [...blocks, ...plate];
    });
  }

  cutsBlock(block, c) {
    const rail = this.machine.rails[block.rail];
    if (this.machine.beams[rail.beam] !== this.beam) return false;
    return Math.abs(this.stand.station(block, c) - this.station) <= rail.block.length / 2;
  }

  cutsPlate(carriage, c) {
    const on = carriage.blocks.filter((block) => this.machine.beams[this.machine.rails[block.rail].beam] === this.beam);
    const stations = on.map((block) => this.stand.station(block, c));
    return on.length > 0 && Math.min(...stations) <= this.station && this.station <= Math.max(...stations);
  }

  cutBlock(carriage, c, block) {
    const rail = this.machine.rails[block.rail];
    const seated = this.stand.station(block, c);
    const rigid = rigidOf(this.stage.motion.rails[block.rail], this.causes, seated);
    const { verdict } = this.stage.carriages[c].blocks[carriage.blocks.indexOf(block)];
    const loops = this.onFace(rail, rail.block.profile, rigid, seated);
    return { kind: "block", verdict, loops, gap: this.gap(carriage, c, block) };
  }

  // The plate's pose where its own beam is not carried: {point, shift, turn}.
  ownPose(c, causes) {
    const carriage = this.machine.carriages[c];
    const beam = this.machine.beams[carriage.beam];
    const rows = this.stage.motion.poses[c];
    const origin = add(beam.origin, times(beam.axes[0], this.positions[c]));
    return { point: add(origin, rows.middle), ...rigidOf(rows, causes, this.positions[c]) };
  }

  cutPlate(carriage, c) {
    const beam = this.machine.beams[carriage.beam];
    const pose = this.ownPose(c, this.causes);
    const shifted = carriage.plate.vertices.map((v) => add(v, times(beam.axes[0], this.positions[c])));
    const { width, depth } = this.beam;
    const slabs = [];
    for (let foot = 0; foot < shifted.length; foot += 8) {
      const corners = [0, 2, 3, 1].map((i) => shifted[foot + i]);
      slabs.push(corners.map((point) => {
        const level = add(point, times(this.beam.axes[0], this.station - dot(minus(point, this.beam.origin), this.beam.axes[0])));
        const [t, n] = this.place(level);
        const at = [clamp(t, -width, width), clamp(n, -2 * depth, depth)];
        const moved = add(pose.shift, cross(pose.turn, minus(level, pose.point)));
        return { at, moved: this.flat(moved) };
      }));
    }
    return [{ kind: "plate", loops: slabs }];
  }

  // What lies open between a block's top and the plate's seat at its left and right edge, all causes, less shims: µm.
  gap(carriage, c, block) {
    const rail = this.machine.rails[block.rail];
    const causes = this.machine.causes;
    const seated = this.stand.station(block, c);
    const seat = add(rail.origin, times(rail.axes[0], seated));
    const rigid = rigidOf(this.stage.motion.rails[block.rail], causes, seated);
    const pose = this.ownPose(c, causes);
    const fitted = this.stage.motion.shims[c][carriage.blocks.indexOf(block)];
    return [1, -1].map((side, i) => {
      const edge = add(seat, fromAxes(rail.axes, 0, (side * rail.block.width) / 2, rail.block.height));
      const plate = add(pose.shift, cross(pose.turn, minus(edge, pose.point)));
      const follows = add(rigid.shift, cross(rigid.turn, minus(edge, seat)));
      return { um: dot(minus(plate, follows), rail.axes[2]) - fitted[i], at: this.place(edge) };
    });
  }

  // Figures to be written in: {words, at}.
  figures() {
    const rows = this.stage.motion.beams[this.beamIndex];
    const spot = between(rows.stations, this.station);
    const turned = rigidAt(rows, "twist", spot);
    const twist = turned ? dot(turned.turn, this.beam.axes[0]) : 0;
    const found = [{ words: angleSaid("twist", twist), at: [0, -this.beam.depth / 2] }];
    if (this.beam.gamma) {
      const opening = along(rows.opening, spot);
      const word = opening <= -0.05 ? "closing" : "opening";
      found.push({ words: `${word} ${Math.abs(opening).toFixed(1)} mrad`, at: [0, this.beam.mouth] });
    }
    for (const rail of this.machine.rails.filter((one) => this.covers(one))) {
      const rigid = rigidOf(this.stage.motion.rails[this.machine.rails.indexOf(rail)], this.machine.causes, this.station);
      const point = add(rail.origin, times(rail.axes[2], rail.top / 2));
      found.push({ words: angleSaid(`${rail.name} rolls`, dot(rigid.turn, rail.axes[0])), at: this.place(point) });
    }
    return found;
  }
}

function angleSaid(word, mrad) {
  const side = Math.abs(mrad) < 0.05 ? "" : mrad > 0 ? ", left up" : ", right up";
  return `${word} ${Math.abs(mrad).toFixed(1)} mrad${side}`;
}

function gapSaid(unitName, um) {
  if (Math.abs(um) <= 0.5) return "no gap";
  return `${um > 0 ? "gap" : "pressed"} ${said.small(unitName, Math.abs(um))}`;
}

// The section as an SVG drawing, at a magnification, with its figures in words beside it; where there is little room
// the drawing has numbers and the words follow it as a list.
function cutFigure(cut, magnification, narrow) {
  const bodies = cut.bodies();
  const shown = ({ at, moved }, k) => [-(at[0] + (k * moved[0]) / 1000), -(at[1] + (k * moved[1]) / 1000)];
  const path = (body, k) => body.loops.map((loop) => `${pathOf(loop.map((corner) => shown(corner, k)))}Z`).join("");
  const corners = bodies.flatMap((body) => body.loops.flat().flatMap((corner) => [shown(corner, 0), shown(corner, magnification)]));
  const low = [0, 1].map((i) => Math.min(...corners.map((c) => c[i])));
  const high = [0, 1].map((i) => Math.max(...corners.map((c) => c[i])));
  const gaps = bodies.filter((body) => body.gap).flatMap((body) => body.gap);
  const notes = [...cut.figures(), ...gaps.map(({ um, at }) => ({ words: gapSaid(cut.machine.unit, um), at }))];
  const unitHeight = Math.max(4, (high[0] - low[0]) / (narrow ? 22 : 34));
  const inside = notes.map((note, i) => (narrow ? { ...note, words: `${i + 1}` } : note));
  const written = columnNotes(inside, low, high, unitHeight);
  const wide = unitHeight * (2 + 0.6 * Math.max(...inside.map((note) => note.words.length)));
  const tall = Math.max(high[1], ...written.map((w) => w.y)) + unitHeight;
  const box = [low[0] - wide, low[1] - unitHeight * 2, high[0] - low[0] + 2 * wide, tall - low[1] + 2 * unitHeight];
  const parts = bodies.flatMap((body) => [
    drawn("path", { class: `cut-${body.kind} ${body.verdict ?? ""}`, "fill-rule": "evenodd", d: path(body, magnification) }),
  ]);
  parts.push(...bodies.filter((b) => b.kind !== "plate").map((body) => drawn("path", { class: "cut-ghost", d: path(body, 0) })));
  for (const { words, at, x, y, anchor } of written) {
    parts.push(drawn("path", { class: "lead", d: pathOf([at, [x, y - unitHeight * 0.35]]) }));
    parts.push(drawn("text", { class: "cut-words", x, y, "text-anchor": anchor, "font-size": unitHeight * 0.95 }, words));
  }
  const label = `Cross-section of beam ${cut.beam.name}: ${notes.map((note) => note.words).join("; ")}.`;
  const svg = drawn("svg", { viewBox: box.map((v) => v.toFixed(1)).join(" "), role: "img", "aria-label": label }, ...parts);
  return narrow ? [svg, element("ol", {}, ...notes.map((note) => element("li", {}, note.words)))] : [svg];
}

// Notes in two columns beside the section, each near the height of what it speaks of.
function columnNotes(notes, low, high, height) {
  const placed = notes.map(({ words, at }) => ({ words, at: [-at[0], -at[1]] }));
  const middle = (low[0] + high[0]) / 2;
  return [true, false].flatMap((left) => {
    const side = placed.filter(({ at }, i) => (Math.abs(at[0] - middle) < 1 ? (i % 2 === 0) === left : at[0] < middle === left));
    side.sort((a, b) => a.at[1] - b.at[1]);
    let last = low[1] - height * 2;
    return side.map((note) => {
      last = Math.max(note.at[1], last + height * 1.5);
      const x = left ? low[0] - height : high[0] + height;
      return { ...note, x, y: last, anchor: left ? "end" : "start" };
    });
  });
}
