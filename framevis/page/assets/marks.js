// Shapes, words and colours: verdicts are told by shape and word as well as by colour.

const SVG = "http://www.w3.org/2000/svg";
const VERDICTS = ["binding", "tight", "unsure", "free"];
const LEVELS = ["free", "open", "tight", "binding"];
const LEVEL_WORDS = {
  free: "free",
  open: "open: tight in 5 % of the cases or more",
  tight: "tight",
  binding: "binding",
};
// Corners of each shape, and where the first stands, in turns.
const CORNERS = { binding: [4, 0.125], tight: [3, 0.25], free: [20, 0], unsure: [4, 0.25] };

// The style's names for the marks of a shim plan, by what is done.
const MARK_INK = { fit: "shim", out: "shim-out", push: "push" };
const MARK_WORDS = { fit: "shim to fit", out: "shim to take out", push: "rail to push" };

// The colours that the page's style names, as shares of 1 for WebGL.
function colours() {
  const style = getComputedStyle(document.documentElement);
  const read = (name) => {
    const hex = style.getPropertyValue(name).trim();
    return [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
  };
  const names = ["ground", "edge", "ghost", "beam", "rail", "plate", ...VERDICTS, "open", "ribbon-free", ...Object.values(MARK_INK)];
  return Object.fromEntries(names.map((name) => [name, read(`--${name}`)]));
}

// An element with attributes and children; text is always text, never markup.
function element(kind, attributes = {}, ...children) {
  const made = document.createElement(kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

function drawn(kind, attributes, ...children) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

const pathOf = (points) => `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}`;

function mark(verdict, x, y, radius) {
  const [corners, first] = CORNERS[verdict];
  const points = Array.from({ length: corners }, (_, i) => {
    const turn = 2 * Math.PI * (first + i / corners);
    return [x + radius * Math.cos(turn), y - radius * Math.sin(turn)];
  });
  return drawn("path", { class: `mark ${verdict}`, d: `${pathOf(points)}Z` });
}

function badge(verdict) {
  const shape = drawn("svg", { class: "badge", viewBox: "0 0 16 16", "aria-hidden": "true" }, mark(verdict, 8, 8, 7));
  return element("span", { class: "verdict" }, shape, verdict);
}

// Lengths in the frame's own unit, deviations in µm or thou, magnifications as they are said.
const said = {
  place: (unitName, mm) => (unitName === "in" ? `${(mm / 25.4).toFixed(2)} in` : `${mm.toFixed(0)} mm`),
  small: (unitName, um) => (unitName === "in" ? `${said.number(um / 25.4, 1)} thou` : `${said.number(um, 0)} µm`),
  // A number with a real minus, and none before a zero.
  number: (value, digits) => {
    const shown = value.toFixed(digits);
    return Number(shown) === 0 ? shown.replace("-", "") : shown.replace("-", "−");
  },
  length: (um) => (um < 1000 ? `${+um.toPrecision(3)} µm` : `${+(um / 1000).toPrecision(3)} mm`),
  times: (k) => (k >= 10 ? `×${k.toFixed(0)}` : `×${+k.toPrecision(2)}`),
};

// The largest of 1, 2, 5 times a power of ten that is not above a positive value.
function roundDown(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  return Math.max(...[1, 2, 5].map((step) => step * power).filter((step) => step <= value * (1 + 1e-9)));
}
