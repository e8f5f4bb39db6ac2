// Where the pieces of the shim plan go: plates beside rails and on blocks, arrows for pushes.
// A mark is told in the axes of its rail, one on a block from the block's seat; it grows with the magnification.

const middleOf = (places) => times(places.reduce(add), 1 / places.length);

class PlanMarks {
  constructor(data, painter) {
    const { machine, plan, stages } = data;
    Object.assign(this, { machine, plan, painter, stage: stages[plan.stage] });
    this.marks = plan.marks.map((mark) => this.prepared(mark));
    this.onRails = machine.rails.map((_, i) => this.railBodies(i));
    this.onBlocks = this.marks.filter((mark) => mark.rail === undefined);
    for (const mark of this.onBlocks) mark.loaded = painter.load({ ...mark.body, moved: null });
  }

  railOf(mark) {
    return this.machine.rails[mark.rail ?? this.machine.carriages[mark.carriage].blocks[mark.block].rail];
  }

  prepared(mark) {
    const rail = this.railOf(mark);
    const grows = mark.grows.map((um) => times(rail.axes[mark.axis], um));
    const body = { vertices: mark.places.map((p) => fromAxes(rail.axes, ...p)), grows, ...this.plan.shapes[mark.shape] };
    const rows = this.stage.motion.rails[mark.rail];
    const ways = rows ? this.machine.causes : [];
    const moved = ways.map((cause) => middleOf(mark.places.map((place) => displacedBy(rows, rail, cause, place, null))));
    return { ...mark, body, moved, middle: middleOf(mark.places), grown: middleOf(grows) };
  }

  // All marks of one kind along a rail as one body, displaced like the rail: [kind, loaded].
  railBodies(index) {
    const rows = this.stage.motion.rails[index];
    const rail = this.machine.rails[index];
    return Object.keys(MARK_INK).map((kind) => [kind, this.marks.filter((m) => m.rail === index && m.kind === kind)])
      .filter(([, marks]) => marks.length)
      .map(([kind, marks]) => {
        const places = marks.flatMap((mark) => mark.places);
        const shifted = (what) => {
          let foot = 0;
          return marks.flatMap((mark) => {
            const cells = mark.body[what].map((cell) => cell.map((i) => i + foot));
            foot += mark.places.length;
            return cells;
          });
        };
        const moved = this.machine.causes.map((cause) => places.map((place) => displacedBy(rows, rail, cause, place, null)));
        const body = { vertices: marks.flatMap((m) => m.body.vertices), grows: marks.flatMap((m) => m.body.grows), moved };
        return [kind, this.painter.load({ ...body, faces: shifted("faces"), edges: shifted("edges") })];
      });
  }

  // Draw them nearer than they are, so that neither rail nor plate hides them.
  draw(picture, stand) {
    const deep = 6 * picture.camera.radius;
    const put = (loaded, kind, origin, motion) => {
      this.painter.setPlace(origin, motion, picture.camera.focus);
      this.painter.faces(loaded, picture.ink[MARK_INK[kind]], this.plan.nearer / deep);
      this.painter.edges(loaded, picture.ink.edge, (this.plan.nearer + 1.2) / deep);
    };
    this.machine.rails.forEach((rail, i) => {
      const origin = add(rail.origin, stand.offset(rail.beam));
      for (const [kind, loaded] of this.onRails[i]) put(loaded, kind, origin, stand.carry(rail.beam) ?? STILL);
    });
    for (const mark of this.onBlocks) {
      const rigid = this.rigid(mark, stand);
      put(mark.loaded, mark.kind, rigid.point, asMotion(rigid));
    }
  }

  rigid(mark, stand) {
    return stand.block(mark.carriage, this.machine.carriages[mark.carriage].blocks[mark.block]);
  }

  // Where the middle of each mark is seen, with its words.
  spots(pane, stand, magnification) {
    return this.marks.map((mark) => {
      const [at, moved] = mark.rail === undefined ? this.onBlock(mark, stand) : this.onRail(mark, stand);
      const place = add(at, times(add(moved, mark.grown), magnification / 1000));
      return { words: mark.words, kind: mark.kind, place, pixel: pane.pixel(place) };
    });
  }

  onBlock(mark, stand) {
    const rigid = this.rigid(mark, stand);
    const at = add(rigid.point, fromAxes(this.railOf(mark).axes, ...mark.middle));
    return [at, add(rigid.shift, cross(rigid.turn, minus(at, rigid.point)))];
  }

  onRail(mark, stand) {
    const rail = this.railOf(mark);
    const at = add(add(rail.origin, stand.offset(rail.beam)), fromAxes(rail.axes, ...mark.middle));
    const own = stand.causes.map((cause) => mark.moved[this.machine.causes.indexOf(cause)]).reduce(add, ZERO);
    return [at, add(own, moveOf(stand.carry(rail.beam) ?? STILL, at))];
  }
}

// The sign of what is done, for the legend.
function markKey(kind) {
  const shape = kind === "push"
    ? drawn("path", { class: "push", d: "M3 6H14V2L23 8L14 14V10H3Z" })
    : drawn("rect", { class: kind, x: 3, y: 4, width: 20, height: 8 });
  return drawn("svg", { class: "key", viewBox: "0 0 26 16", "aria-hidden": "true" }, shape);
}
