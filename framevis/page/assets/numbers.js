// The numbers of every block where the carriages now stand, as a table; and one block's numbers beside the pointer.

const MISFIT_WORDS = ["lateral", "height", "roll", "pitch", "yaw"];

// One block's numbers at a carriage's position.
function blockAt(stage, carriageIndex, blockIndex, position) {
  const { stations, blocks } = stage.carriages[carriageIndex];
  const block = blocks[blockIndex];
  const spot = between(stations, position);
  const value = (row) => along(row, spot);
  return {
    verdict: block.verdict,
    ratio: value(block.ratio),
    low: value(block.low),
    high: value(block.high),
    drag: value(block.drag),
    safety: value(block.safety),
    pressure: value(block.pressure),
    misfit: block.misfit.map(value),
  };
}

// Where a block stands on its scale here: free, tight or binding by the estimate itself.
function hereWord(numbers, limits) {
  if (numbers.ratio >= limits.binding || numbers.safety < limits.safety) return "binding";
  return numbers.ratio >= limits.tight ? "tight" : "free";
}

function misfitSaid(unitName, misfit, i) {
  return i < 2 ? said.small(unitName, misfit[i]) : `${said.number(misfit[i], 2)} mrad`;
}

function numbersTable(data, stage, positions) {
  const heads = ["block", "here", "drag × perfect", "5–95 %", "drag, N", "pressure, MPa", "safety", ...MISFIT_WORDS];
  const head = element("tr", {}, ...heads.map((name, i) => element("th", { scope: "col", class: i > 1 ? "number" : "" }, name)));
  const bodies = data.machine.carriages.map((carriage, c) => {
    const words = `Carriage ${carriage.name} at ${said.place(data.machine.unit, positions[c])}`;
    const title = element("tr", {}, element("th", { scope: "rowgroup", colspan: heads.length }, words));
    return element("tbody", {}, title, ...carriage.blocks.map((block, b) => numbersRow(data, stage, c, b, positions[c])));
  });
  const caption = element("caption", {}, `Where the carriages stand now, stage ${stage.name}`);
  const table = element("table", {}, caption, element("thead", {}, head), ...bodies);
  return element("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `Numbers here, stage ${stage.name}` }, table);
}

function numbersRow(data, stage, c, b, position) {
  const n = blockAt(stage, c, b, position);
  const cells = [
    n.ratio.toFixed(2),
    `${n.low.toFixed(1)}–${n.high.toFixed(1)}`,
    n.drag.toFixed(1),
    n.pressure.toFixed(0),
    n.safety.toFixed(1),
    ...MISFIT_WORDS.map((_, i) => misfitSaid(data.machine.unit, n.misfit, i)),
  ];
  return element(
    "tr",
    {},
    element("th", { scope: "row" }, data.machine.carriages[c].blocks[b].name),
    element("td", {}, badge(hereWord(n, data.limits))),
    ...cells.map((cell) => element("td", { class: "number" }, cell)),
  );
}

// What is told of one block beside the pointer.
function tipLines(data, stage, c, b, position) {
  const n = blockAt(stage, c, b, position);
  const carriage = data.machine.carriages[c];
  const misfit = MISFIT_WORDS.map((word, i) => `${word} ${misfitSaid(data.machine.unit, n.misfit, i)}`);
  return [
    `${carriage.name} / ${carriage.blocks[b].name}: ${n.verdict} over the travel`,
    `at ${said.place(data.machine.unit, position)}: drag ×${n.ratio.toFixed(2)} (${n.low.toFixed(1)}–${n.high.toFixed(1)}), ${n.drag.toFixed(1)} N`,
    `peak pressure ${n.pressure.toFixed(0)} MPa, static safety ${n.safety.toFixed(1)}`,
    `misfit: ${misfit.join(", ")}`,
  ];
}
