// Sliders and switches: each changes one thing of the state and says so in words.

const MOST = 3000;
const byId = (id) => document.getElementById(id);
const powerOf = (magnification) => (1000 * Math.log10(magnification)) / Math.log10(MOST);
const magnificationOf = (power) => MOST ** (power / 1000);

// Words of the group of carriages that one slider moves.
function groupSaid(data, group, positions) {
  return group.members
    .map(({ carriage }) => `${data.machine.carriages[carriage].name} ${said.place(data.machine.unit, positions[carriage])}`)
    .join(", ");
}

function positionsOf(group, leaderAt, positions) {
  const moved = leaderAt - group.members[0].reference;
  const next = [...positions];
  for (const { carriage, reference, way } of group.members) next[carriage] = reference + way * moved;
  return next;
}

function addMagnification(state, changed) {
  const slider = byId("magnification");
  const tell = () => {
    byId("magnification-said").textContent = said.times(state.magnification);
    slider.setAttribute("aria-valuetext", said.times(state.magnification));
  };
  slider.value = powerOf(state.magnification);
  slider.addEventListener("input", () => {
    state.magnification = magnificationOf(Number(slider.value));
    tell();
    changed();
  });
  tell();
}

function addPosition(data, state, group, index, changed) {
  const id = `position-${index}`;
  const names = group.members.map(({ carriage }) => data.machine.carriages[carriage].name).join(" + ");
  const slider = element("input", {
    id, type: "range", min: group.range[0], max: group.range[1], step: "any",
  });
  const told = element("output", { id: `${id}-said`, for: id });
  const tell = () => {
    told.textContent = groupSaid(data, group, state.positions);
    slider.setAttribute("aria-valuetext", told.textContent);
  };
  slider.value = state.positions[group.members[0].carriage];
  slider.addEventListener("input", () => {
    state.positions = positionsOf(group, Number(slider.value), state.positions);
    state.moved = group.members[0].carriage;
    tell();
    changed();
  });
  tell();
  byId("positions").append(element("p", {}, element("label", { for: id }, `Carriage ${names}`), " ", told, slider));
}

function addChoice(parent, kind, name, words, checked, change) {
  const box = element("input", { type: kind, name });
  box.checked = checked;
  box.addEventListener("change", () => change(box.checked));
  parent.append(element("label", {}, box, ` ${words}`));
  return box;
}

function addCauses(data, state, changed) {
  for (const cause of data.machine.causes) {
    addChoice(byId("causes"), "checkbox", `cause-${cause}`, data.causeWords[cause], true, (on) => {
      state.causes = data.machine.causes.filter((one) => (one === cause ? on : state.causes.includes(one)));
      changed();
    });
  }
}

// One radio button a stage, and one for all of them side by side.
function addStages(data, state, changed) {
  const every = data.stages.map((_, i) => i);
  const choices = every.map((i) => [data.stages[i].name, [i]]);
  if (every.length > 1) choices.push(["side by side", every]);
  choices.forEach(([words, stages], i) => {
    addChoice(byId("stages"), "radio", "stage", words, i === 0, () => {
      state.stages = stages;
      changed();
    });
  });
}

function addSwitches(names, state, changed) {
  for (const name of names) {
    byId(name).checked = true;
    byId(name).addEventListener("change", () => {
      state[name] = byId(name).checked;
      changed();
    });
  }
}

function addCut(data, state, changed) {
  const select = byId("cut-beam");
  data.machine.beams.forEach((beam, i) => select.append(element("option", { value: i }, beam.name)));
  select.addEventListener("change", () => {
    state.cutBeam = Number(select.value);
    state.cutStation = followed(data, state) ?? data.machine.beams[state.cutBeam].length / 2;
    changed();
  });
  byId("cut-station").addEventListener("input", () => {
    state.cutFollows = byId("cut-follows").checked = false;
    state.cutStation = (Number(byId("cut-station").value) / 1000) * data.machine.beams[state.cutBeam].length;
    changed();
  });
  byId("cut-follows").checked = true;
  byId("cut-follows").addEventListener("change", () => {
    state.cutFollows = byId("cut-follows").checked;
    changed();
  });
}

// The station of the worst block that rides the beam of the cut; null where none does.
function followed(data, state) {
  const stage = data.stages[state.stages[0]];
  let best = null;
  data.machine.carriages.forEach((carriage, c) => carriage.blocks.forEach((block, b) => {
    if (data.machine.rails[block.rail].beam !== state.cutBeam) return;
    const { ratio } = blockAt(stage, c, b, state.positions[c]);
    if (!best || ratio > best.ratio) best = { ratio, station: block.start + block.way * state.positions[c] };
  }));
  return best ? clamp(best.station, 0, data.machine.beams[state.cutBeam].length) : null;
}

function addLegend(kinds) {
  const verdicts = VERDICTS.map((verdict) => element("li", {}, badge(verdict)));
  const risks = LEVELS.map((level, i) => {
    const bar = drawn("rect", { class: `level${i}`, x: 0, y: 8 - 4 * RIBBON_SHARE[i], width: 26, height: 8 * RIBBON_SHARE[i] });
    const key = drawn("svg", { class: "key", viewBox: "0 0 26 16", "aria-hidden": "true" }, bar);
    return element("li", {}, key, `rail ${LEVEL_WORDS[level]}`);
  });
  const marks = kinds.map((kind) => element("li", {}, markKey(kind), MARK_WORDS[kind]));
  byId("legend").append(...verdicts, ...risks, ...marks);
}
