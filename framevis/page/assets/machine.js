// Bodies to draw: a profile pushed along stations gives vertices, faces and feature edges; and what displaces them.
// Lengths mm, displacements µm, turns mrad, machine axes.

const MESH_STEP = 50;

function stationsFrom(start, end) {
  const steps = Math.max(1, Math.ceil((end - start) / MESH_STEP));
  return Array.from({ length: steps + 1 }, (_, i) => start + ((end - start) * i) / steps);
}

// A closed body of a profile's points at each station; places as [s, t, n].
function extrude(profile, stations) {
  const count = profile.points.length;
  const last = (stations.length - 1) * count;
  const places = stations.flatMap((s) => profile.points.map(([t, n]) => [s, t, n]));
  const faces = [];
  const edges = [];
  for (let foot = 0; foot < last; foot += count) {
    for (const [a, b] of profile.outline) {
      faces.push([foot + a, foot + b, foot + b + count, foot + a + count]);
    }
    for (const k of profile.corners) edges.push([foot + k, foot + k + count]);
  }
  for (const q of profile.quads) {
    faces.push([q[3], q[2], q[1], q[0]], q.map((i) => i + last));
  }
  for (const [a, b] of profile.outline) edges.push([a, b], [a + last, b + last]);
  return { places, faces, edges };
}

// A stage's rigid rows at a station, of one cause: {shift, turn}, or null where the cause does nothing here.
function rigidAt(rows, cause, spot) {
  const six = rows.rigid[cause];
  if (!six) return null;
  const value = six.map((row) => along(row, spot));
  return { shift: value.slice(0, 3), turn: value.slice(3) };
}

// The same, summed over the causes that are switched on.
function rigidOf(rows, causes, station) {
  const spot = between(rows.stations, station);
  let shift = ZERO;
  let turn = ZERO;
  for (const cause of causes) {
    const one = rigidAt(rows, cause, spot);
    if (one) {
      shift = add(shift, one.shift);
      turn = add(turn, one.turn);
    }
  }
  return { shift, turn };
}

// Displacement of one place [s, t, n] of a beam or rail by one cause; `gamma` is how the place moves per mrad of opening.
function displacedBy(rows, body, cause, [s, t, n], gamma) {
  const spot = between(rows.stations, s);
  const rigid = rigidAt(rows, cause, spot);
  if (rigid) return add(rigid.shift, cross(rigid.turn, fromAxes(body.axes, 0, t, n)));
  if (cause !== "opening" || !gamma) return ZERO;
  const opening = along(rows.opening, spot);
  return fromAxes(body.axes, 0, gamma[0] * opening, gamma[1] * opening);
}

// Vertices of a beam or rail in one stage, from its origin, with the displacement of each cause.
function longBody(body, rows, causes, start, end) {
  const { places, faces, edges } = extrude(body.profile, stationsFrom(start, end));
  const count = body.profile.points.length;
  const moved = causes.map((cause) =>
    places.map((place, i) => displacedBy(rows, body, cause, place, body.gamma && body.gamma[i % count])),
  );
  return { vertices: places.map((p) => fromAxes(body.axes, ...p)), faces, edges, moved };
}

function blockBody(rail) {
  const half = rail.block.length / 2;
  const { places, faces, edges } = extrude(rail.block.profile, [-half, half]);
  return { vertices: places.map((p) => fromAxes(rail.axes, ...p)), faces, edges, moved: null };
}

// Width of the ribbon over the rail's, by level of risk: free, open, tight, binding.
const RIBBON_SHARE = [0.16, 0.5, 1.0, 1.7];

// For each place along a rail the worst level of any carriage that reaches it; -1 where none does.
function railLevels(stage, railIndex, stations) {
  const found = stage.motion.ribbons.filter((ribbon) => ribbon.rail === railIndex);
  return stations.map((s) => {
    const levels = found
      .filter(({ stations: at }) => s >= at[0] - 0.01 && s <= at[at.length - 1] + 0.01)
      .map(({ stations: at, level }) => {
        const [i, share] = between(at, s);
        return level[share < 0.5 ? i : i + 1];
      });
    return levels.length ? Math.max(...levels) : -1;
  });
}

// The ribbon of risk on top of a rail: for each level a body of its own, so that each has one colour.
function ribbonBodies(rail, railIndex, stage, causes) {
  const rows = stage.motion.rails[railIndex];
  const [start, end] = rail.ends;
  const steps = Math.ceil((end - start) / 20);
  const cuts = Array.from({ length: steps + 1 }, (_, i) => start + ((end - start) * i) / steps);
  const middles = cuts.slice(1).map((cut, i) => (cut + cuts[i]) / 2);
  const levels = railLevels(stage, railIndex, middles);
  return RIBBON_SHARE.map((share, level) => {
    const half = (rail.width / 2) * share;
    const places = [];
    const faces = [];
    levels.forEach((found, i) => {
      if (found !== level) return;
      const foot = places.length;
      for (const [s, t] of [[cuts[i], half], [cuts[i], -half], [cuts[i + 1], -half], [cuts[i + 1], half]]) {
        places.push([s, t, rail.top + 0.8]);
      }
      faces.push([foot, foot + 1, foot + 2, foot + 3]);
    });
    const moved = causes.map((cause) => places.map((place) => displacedBy(rows, rail, cause, place, null)));
    return { vertices: places.map((p) => fromAxes(rail.axes, ...p)), faces, edges: [], moved };
  });
}
