// What is written over the picture: labels of blocks, scale bar, the stage's name; and finding the block under a pointer.

const LABEL_HEIGHT = 19;
const LABEL_WIDTH_PER_LETTER = 6.9;

function boxesMeet(a, b) {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}

// The first place about a spot, near ones first, where a label of this size meets no other.
function freePlace([x, y], wide, taken, pane) {
  for (const far of [20, 38, 58, 82, 110, 142]) {
    for (const turn of [0.08, 0.42, 0.92, 0.58, 0.2, 0.3, 0.8, 0.7]) {
      const cx = x + far * 1.3 * Math.cos(2 * Math.PI * turn) + (Math.cos(2 * Math.PI * turn) > 0 ? 0 : -wide);
      const cy = y - far * Math.sin(2 * Math.PI * turn) - LABEL_HEIGHT / 2;
      const box = [cx, cy, cx + wide, cy + LABEL_HEIGHT];
      const inside = cx >= pane.left + 4 && cx + wide <= pane.left + pane.width - 4
        && cy >= pane.top + 30 && cy + LABEL_HEIGHT <= pane.top + pane.height - 44;
      if (inside && !taken.some((other) => boxesMeet(box, other))) return box;
    }
  }
  return null;
}

function inPane([x, y], pane) {
  return x > pane.left && x < pane.left + pane.width && y > pane.top && y < pane.top + pane.height;
}

function labelOf(spot, pane, taken) {
  const words = `${spot.name} ${spot.verdict}`;
  const wide = words.length * LABEL_WIDTH_PER_LETTER + 24;
  const box = freePlace(spot.pixel, wide, taken, pane);
  if (!box) return [];
  taken.push(box);
  const [x, y] = spot.pixel;
  const end = [clamp(x, box[0], box[2]), clamp(y, box[1], box[3])];
  return [
    drawn("path", { class: "lead", d: pathOf([spot.pixel, end]) }),
    drawn("rect", { class: "paper", x: box[0], y: box[1], width: wide, height: LABEL_HEIGHT, rx: 2 }),
    mark(spot.verdict, box[0] + 10, box[1] + LABEL_HEIGHT / 2, 5.5),
    drawn("text", { class: "label", x: box[0] + 20, y: box[1] + 14 }, words),
  ];
}

function scaleBar(pane, magnification) {
  const um = roundDown(((0.16 * pane.width) / pane.scale / magnification) * 1000);
  const long = (um / 1000) * magnification * pane.scale;
  const x = pane.left + 14;
  const y = pane.top + pane.height - 14;
  return [
    drawn("path", { class: "scale", d: `M${x} ${y - 5}v10M${x} ${y}h${long.toFixed(1)}m0 -5v10` }),
    drawn("text", { class: "label", x, y: y - 11 }, `this bar = ${said.length(um)}, drawn ${said.times(magnification)}`),
  ];
}

// Draw all that is written over one pane; `spots`: the blocks as they are seen.
function writeOver(svg, pane, state, spots) {
  const parts = scaleBar(pane, state.magnification);
  const taken = spots.map(({ pixel: [x, y] }) => [x - 7, y - 7, x + 7, y + 7]);
  const seen = spots.filter((spot) => inPane(spot.pixel, pane));
  if (state.labels) for (const spot of seen) parts.push(...labelOf(spot, pane, taken));
  for (const spot of seen) parts.push(mark(spot.verdict, ...spot.pixel, 6));
  parts.push(drawn("text", { class: "label stage-name", x: pane.left + 14, y: pane.top + 22 }, `stage ${pane.stage.name}`));
  if (pane.left > 0 || pane.top > 0) {
    parts.push(drawn("path", { class: "lead", d: pane.left > 0 ? `M${pane.left} 0v${pane.height}` : `M0 ${pane.top}h${pane.width}` }));
  }
  svg.append(...parts);
}

// The block nearest a pixel, within reach of a finger or a pointer.
function spotAt(spots, [x, y], reach) {
  let found = null;
  let best = reach;
  for (const spot of spots) {
    const far = Math.hypot(spot.pixel[0] - x, spot.pixel[1] - y);
    if (far < best) [found, best] = [spot, far];
  }
  return found;
}
