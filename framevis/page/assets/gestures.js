// Mouse, touch and keyboard on the picture.

class Gestures {
  // `calls`: pane(x, y) gives the pane under a pixel; changed() after the camera moved; pointed(x, y, reach), left().
  constructor(canvas, camera, calls) {
    Object.assign(this, { canvas, camera, calls });
    this.pointers = new Map();
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => this.up(event));
    canvas.addEventListener("pointerleave", () => calls.left());
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    canvas.addEventListener("keydown", (event) => this.key(event));
  }

  at(event) {
    const box = this.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  down(event) {
    this.canvas.focus({ preventScroll: true });
    this.canvas.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, this.at(event));
    this.travelled = 0;
  }

  move(event) {
    const now = this.at(event);
    const before = this.pointers.get(event.pointerId);
    if (!before) {
      this.calls.pointed(...now, 22);
      return;
    }
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, place]) => place);
    const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
    this.travelled += Math.hypot(dx, dy);
    if (others.length) this.pinch(before, now, others[0]);
    else if (event.shiftKey || event.buttons === 2 || event.buttons === 4) this.camera.pan(dx, dy, this.calls.pane(...now).scale);
    else this.camera.orbit(dx, dy);
    this.pointers.set(event.pointerId, now);
    this.calls.changed();
  }

  // Two fingers: what lies between them moves and grows with them.
  pinch(before, now, other) {
    const pane = this.calls.pane(...now);
    const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
    this.camera.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2, pane.scale);
    const middle = [(now[0] + other[0]) / 2, (now[1] + other[1]) / 2];
    this.zoom(apart(now, other) / Math.max(apart(before, other), 1), middle, pane);
  }

  zoom(factor, [x, y], pane) {
    this.camera.zoomBy(factor, x - pane.left - pane.width / 2, y - pane.top - pane.height / 2, pane.scale);
  }

  up(event) {
    this.pointers.delete(event.pointerId);
    if (this.travelled < 6) this.calls.pointed(...this.at(event), event.pointerType === "touch" ? 36 : 22);
  }

  wheel(event) {
    if (document.activeElement !== this.canvas && !event.ctrlKey) return;
    event.preventDefault();
    const now = this.at(event);
    this.zoom(Math.exp(-clamp(event.deltaY, -200, 200) * 0.002), now, this.calls.pane(...now));
    this.calls.changed();
  }

  key(event) {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const pane = this.calls.pane(1, 1);
    if (step && event.shiftKey) this.camera.pan(step[0] * 24, step[1] * 24, pane.scale);
    else if (step) this.camera.orbit(step[0] * 12, step[1] * 12);
    else if (event.key === "+" || event.key === "=") this.camera.zoomBy(1.2, 0, 0, pane.scale);
    else if (event.key === "-") this.camera.zoomBy(1 / 1.2, 0, 0, pane.scale);
    else if (event.key === "0") this.camera.toHome();
    else return;
    event.preventDefault();
    this.calls.changed();
  }
}
