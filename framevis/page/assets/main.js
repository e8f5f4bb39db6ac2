// Puts the parts together: reads the data, draws when something changed.

class Picture {
  constructor(data, state, painter) {
    Object.assign(this, { data, state, painter });
    this.canvas = byId("canvas");
    this.camera = new Camera(data.machine);
    this.ink = colours();
    this.loadAll();
  }

  loadAll() {
    const { machine, stages } = this.data;
    const { painter } = this;
    this.plan = this.data.plan && new PlanMarks(this.data, painter);
    this.blocks = machine.rails.map((rail) => painter.load(blockBody(rail)));
    this.plates = machine.carriages.map(({ plate }) => painter.load({ ...plate, moved: null }));
    this.long = stages.map((stage) => ({
      beams: machine.beams.map((beam, i) => painter.load(longBody(beam, stage.motion.beams[i], machine.causes, 0, beam.length))),
      rails: machine.rails.map((rail, i) => painter.load(longBody(rail, stage.motion.rails[i], machine.causes, ...rail.ends))),
      ribbons: machine.rails.map((rail, i) => ribbonBodies(rail, i, stage, machine.causes).map((body) => painter.load(body))),
    }));
  }

  // One pane a stage that is shown: beside each other, or below each other where that is roomier.
  panes() {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const count = this.state.stages.length;
    const beside = width > 640;
    return this.state.stages.map((index, i) => {
      const stage = this.data.stages[index];
      return beside
        ? new Pane(this.camera, stage, (i * width) / count, 0, width / count, height)
        : new Pane(this.camera, stage, 0, (i * height) / count, width, height / count);
    });
  }

  draw() {
    this.spots = [];
    this.marks = [];
    this.now = this.panes();
    if (!this.canvas.clientWidth || !this.canvas.clientHeight) return;  // nothing to draw on yet
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.round(this.canvas.clientWidth * ratio);
    const height = Math.round(this.canvas.clientHeight * ratio);
    if (this.canvas.width !== width || this.canvas.height !== height) Object.assign(this.canvas, { width, height });
    const over = byId("over");
    over.replaceChildren();
    over.setAttribute("viewBox", `0 0 ${this.canvas.clientWidth} ${this.canvas.clientHeight}`);
    for (const pane of this.now) this.drawPane(pane, ratio, over);
  }

  drawPane(pane, ratio, over) {
    const { state, painter } = this;
    const { machine } = this.data;
    const stand = new Stand(machine, pane.stage, state.positions, state.causes);
    painter.pane(pane, ratio, this.ink.ground);
    painter.setWarp(state.magnification, machine.causes.map((cause) => (state.causes.includes(cause) ? 1 : 0)));
    this.drawLong(pane, stand);
    this.drawCarriages(pane, stand);
    if (this.plan && state.marks && pane.stage === this.plan.stage) {
      this.plan.draw(this, stand);
      this.marks.push(...this.plan.spots(pane, stand, state.magnification));
    }
    if (state.ghost) this.drawGhost(pane, stand);
    const spots = this.spotsOf(pane, stand);
    writeOver(over, pane, state, spots);
    this.spots.push(...spots);
  }

  body(loaded, colour, origin, motion) {
    const nearer = 1.2 / (6 * this.camera.radius);
    this.painter.setPlace(origin, motion, this.camera.focus);
    this.painter.faces(loaded, colour);
    this.painter.edges(loaded, this.ink.edge, nearer);
  }

  drawLong(pane, stand) {
    const { machine } = this.data;
    const loaded = this.long[this.data.stages.indexOf(pane.stage)];
    machine.beams.forEach((beam, i) => {
      this.body(loaded.beams[i], this.ink.beam, add(beam.origin, stand.offset(i)), stand.carry(i) ?? STILL);
    });
    const levels = [this.ink["ribbon-free"], this.ink.open, this.ink.tight, this.ink.binding];
    machine.rails.forEach((rail, i) => {
      const origin = add(rail.origin, stand.offset(rail.beam));
      this.body(loaded.rails[i], this.ink.rail, origin, stand.carry(rail.beam) ?? STILL);
      if (!this.state.ribbon) return;
      const nearer = 2.5 / (6 * this.camera.radius);
      loaded.ribbons[i].forEach((body, level) => body.faces && this.painter.faces(body, levels[level], nearer));
    });
  }

  drawCarriages(pane, stand) {
    const { machine } = this.data;
    machine.carriages.forEach((carriage, c) => {
      carriage.blocks.forEach((block, b) => {
        const rigid = stand.block(c, block);
        const { verdict } = pane.stage.carriages[c].blocks[b];
        this.body(this.blocks[block.rail], this.ink[verdict], rigid.point, asMotion(rigid));
      });
      const { axes } = machine.beams[carriage.beam];
      const origin = add(times(axes[0], this.state.positions[c]), stand.offset(carriage.beam));
      this.body(this.plates[c], this.ink.plate, origin, asMotion(stand.plate(c)));
    });
  }

  // Beams and rails as drawn: thin lines.
  drawGhost(pane, stand) {
    const { machine } = this.data;
    const loaded = this.long[this.data.stages.indexOf(pane.stage)];
    this.painter.setWarp(0, [0, 0, 0, 0, 0]);
    machine.beams.forEach((beam, i) => {
      this.painter.setPlace(add(beam.origin, stand.offset(i)), STILL, this.camera.focus);
      this.painter.edges(loaded.beams[i], this.ink.ghost, 0);
    });
    machine.rails.forEach((rail, i) => {
      this.painter.setPlace(add(rail.origin, stand.offset(rail.beam)), STILL, this.camera.focus);
      this.painter.edges(loaded.rails[i], this.ink.ghost, 0);
    });
  }

  // Where each block is seen: the middle of its body, warped.
  spotsOf(pane, stand) {
    return this.data.machine.carriages.flatMap((carriage, c) => carriage.blocks.map((block, b) => {
      const rail = this.data.machine.rails[block.rail];
      const rigid = stand.block(c, block);
      const centre = add(rigid.point, times(rail.axes[2], rail.block.height / 2));
      const moved = add(rigid.shift, cross(rigid.turn, minus(centre, rigid.point)));
      const place = add(centre, times(moved, this.state.magnification / 1000));
      const name = `${carriage.name}/${block.name}`;
      return { c, b, name, place, stage: pane.stage, pixel: pane.pixel(place), verdict: pane.stage.carriages[c].blocks[b].verdict };
    }));
  }

  paneAt(x, y) {
    return this.now.find((pane) => x >= pane.left && x <= pane.left + pane.width && y >= pane.top && y <= pane.top + pane.height) ?? this.now[0];
  }

  look(view) {
    const { camera, data, state } = this;
    camera.toHome();
    if (view === "top") camera.look(Math.atan2(-1, 0), Math.PI / 2);
    if (view === "along") camera.look(Math.PI, 0.06);
    if (view === "across") camera.look(-Math.PI / 2, 0.06);
    if (view !== "worst" || !this.spots.length) return;
    const stage = data.stages[state.stages[0]];
    const ratio = ({ c, b }) => blockAt(stage, c, b, state.positions[c]).ratio;
    const worst = this.spots.filter((spot) => spot.stage === stage).reduce((a, b) => (ratio(b) > ratio(a) ? b : a));
    camera.focus = worst.place;
    camera.zoom = 5;
  }
}

class Page {
  constructor(data) {
    this.data = data;
    this.state = {
      magnification: data.magnification,
      positions: data.positions,
      causes: [...data.machine.causes],
      stages: [0],
      ghost: true,
      ribbon: true,
      labels: true,
      marks: true,
      cutBeam: 0,
      cutStation: 0,
      cutFollows: true,
    };
    this.waiting = false;
    this.picture = this.start();
    this.addControls();
    if (this.picture) this.addGestures();
    this.update();
  }

  // The picture in three dimensions; null where WebGL 2 is missing.
  start() {
    byId("live").hidden = byId("cut-part").hidden = byId("numbers").hidden = false;
    try {
      const painter = new Painter(byId("canvas"));
      document.body.classList.add("three");
      return new Picture(this.data, this.state, painter);
    } catch (problem) {
      byId("no-three").hidden = false;
      for (const id of ["picture", "how", "views", "shows"]) byId(id).hidden = true;
      return null;
    }
  }

  addControls() {
    const { data, state } = this;
    const changed = () => this.changed();
    addMagnification(state, changed);
    data.machine.groups.forEach((group, i) => addPosition(data, state, group, i, changed));
    addStages(data, state, changed);
    addCauses(data, state, changed);
    addSwitches(["ghost", "ribbon", "labels", ...(data.plan ? ["marks"] : [])], state, changed);
    addCut(data, state, changed);
    addLegend(data.plan ? Object.keys(MARK_INK).filter((kind) => data.plan.marks.some((mark) => mark.kind === kind)) : []);
    for (const form of document.querySelectorAll("form")) form.addEventListener("submit", (event) => event.preventDefault());
    for (const button of byId("views").querySelectorAll("button")) {
      button.addEventListener("click", () => {
        this.picture.look(button.dataset.view);
        this.changed();
      });
    }
    window.addEventListener("resize", changed);
    window.addEventListener("beforeprint", () => {
      for (const details of document.querySelectorAll("details")) details.open = true;
    });
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      if (this.picture) this.picture.ink = colours();
      this.changed();
    });
  }

  addGestures() {
    const { picture } = this;
    this.gestures = new Gestures(picture.canvas, picture.camera, {
      pane: (x, y) => picture.paneAt(x, y),
      changed: () => this.changed(),
      pointed: (x, y, reach) => this.point(spotAt([...picture.spots, ...picture.marks], [x, y], reach)),
      left: () => this.point(null),
    });
  }

  // Show or hide one block's numbers beside it, or what a mark of the plan says.
  point(spot) {
    const tip = byId("tip");
    tip.hidden = !spot;
    if (!spot) return;
    const lines = spot.words ?? tipLines(this.data, spot.stage, spot.c, spot.b, this.state.positions[spot.c]);
    tip.replaceChildren(...lines.map((line) => element("p", {}, line)));
    const { clientWidth: width, clientHeight: height } = this.picture.canvas;
    const [x, y] = spot.pixel;
    tip.style.left = `${clamp(x + 16, 4, Math.max(4, width - tip.offsetWidth - 4))}px`;
    tip.style.top = `${y + 18 + tip.offsetHeight > height ? Math.max(4, y - tip.offsetHeight - 16) : y + 18}px`;
  }

  // Draw with the next frame, once, however much has changed.
  changed() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.update();
    });
  }

  update() {
    if (this.picture) this.picture.draw();
    if (!byId("tip").hidden) this.point(null);
    const { data, state } = this;
    const shown = state.stages.map((i) => data.stages[i]);
    byId("numbers").replaceChildren(...shown.map((stage) => numbersTable(data, stage, state.positions)));
    for (const part of document.querySelectorAll("[data-stage]")) {
      part.classList.toggle("other-stage", !state.stages.includes(Number(part.dataset.stage)));
    }
    this.updateCut(shown);
  }

  updateCut(shown) {
    const { data, state } = this;
    const beam = data.machine.beams[state.cutBeam];
    if (state.cutFollows) state.cutStation = followed(data, state) ?? state.cutStation;
    const place = said.place(data.machine.unit, state.cutStation);
    byId("cut-station").value = (1000 * state.cutStation) / beam.length;
    byId("cut-station").setAttribute("aria-valuetext", place);
    byId("cut-said").textContent = place;
    byId("cut").replaceChildren(...shown.map((stage) => {
      const cut = new Cut(data.machine, stage, state.positions, state.causes, state.cutBeam, state.cutStation);
      const words = `Beam ${beam.name} cut at ${place}, seen from its start, stage ${stage.name}; drawn ${said.times(state.magnification)} without the beam's own bow there. Figures: all causes.`;
      const narrow = byId("cut").clientWidth < 560;
      return element("figure", {}, ...cutFigure(cut, state.magnification, narrow), element("figcaption", {}, words));
    }));
  }
}

{
  const page = new Page(JSON.parse(byId("data").textContent));
  // For tests and the curious: what is shown, and where each block is (mm, warped).
  window.framevis = { state: page.state, spots: () => (page.picture ? page.picture.spots : []), marks: () => (page.picture ? page.picture.marks : []), page };
}
