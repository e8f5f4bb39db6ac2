// Small vectors of three numbers: [x, y, z].

const add = (a, b) => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const times = (a, k) => [a[0] * k, a[1] * k, a[2] * k];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
const size = (a) => Math.hypot(a[0], a[1], a[2]);
const unit = (a) => times(a, 1 / size(a));
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
const ZERO = [0, 0, 0];

// A place given in a body's axes (rows s, t, n) as a direction in machine axes.
const fromAxes = (axes, s, t, n) =>
  [0, 1, 2].map((i) => axes[0][i] * s + axes[1][i] * t + axes[2][i] * n);

// Where a value lies in a rising list: the interval's index and the share of it that is passed.
function between(list, value) {
  let low = 0;
  let high = list.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (list[middle] <= value) low = middle;
    else high = middle;
  }
  return [low, clamp((value - list[low]) / (list[high] - list[low]), 0, 1)];
}

// A row along a list's stations (0: it is zero all along), at a place found by `between`.
const along = (row, [i, share]) => (row === 0 ? 0 : row[i] + (row[i + 1] - row[i]) * share);
