// From where the machine is looked at: a parallel projection, turned about the machine's upright direction.

// The corners of a beam as drawn.
function cornersOf({ origin, axes, length, width, depth }) {
  return [0, length].flatMap((s) => [-width / 2, width / 2].flatMap((t) => [0, -depth].map((n) => add(origin, fromAxes(axes, s, t, n)))));
}

class Camera {
  constructor(machine) {
    this.up = machine.up;
    this.level = machine.level;
    this.across = cross(this.up, this.level);
    this.home = machine.home;
    this.centre = machine.centre;
    this.corners = machine.beams.flatMap(cornersOf);
    this.radius = machine.radius;
    this.toHome();
  }

  toHome() {
    this.yaw = this.home[0];
    this.pitch = this.home[1];
    this.focus = this.centre;
    this.zoom = 1;
  }

  look(yaw, pitch) {
    this.yaw = yaw;
    this.pitch = clamp(pitch, -Math.PI / 2, Math.PI / 2);
  }

  // Rows right, up, toward the eye.
  axes() {
    const flat = add(times(this.level, Math.cos(this.yaw)), times(this.across, Math.sin(this.yaw)));
    const eye = add(times(this.up, Math.sin(this.pitch)), times(flat, Math.cos(this.pitch)));
    const right = cross(this.up, flat);
    return [right, cross(eye, right), eye];
  }

  // Pixels a millimetre takes in a pane of this size, so that the whole machine fits at zoom 1.
  scale(width, height) {
    const [right, up] = this.axes();
    const reach = (axis) => Math.max(...this.corners.map((corner) => Math.abs(dot(minus(corner, this.centre), axis))));
    return (this.zoom * 0.43) / Math.max(reach(right) / width, reach(up) / height);
  }

  orbit(dx, dy) {
    this.look(this.yaw - dx * 0.008, this.pitch + dy * 0.008);
  }

  pan(dx, dy, scale) {
    const [right, up] = this.axes();
    this.focus = add(this.focus, add(times(right, -dx / scale), times(up, dy / scale)));
  }

  // Zoom by a factor, keeping the place under (dx, dy) pixels from the pane's middle where it is.
  zoomBy(factor, dx, dy, scale) {
    const next = clamp(this.zoom * factor, 0.3, 40);
    const real = next / this.zoom;
    this.zoom = next;
    this.pan(-dx * (1 - 1 / real), -dy * (1 - 1 / real), scale);
  }
}

// One pane of the picture: from places in the machine to pixels of the pane.
class Pane {
  constructor(camera, stage, left, top, width, height) {
    Object.assign(this, { camera, stage, left, top, width, height });
    this.axes = camera.axes();
    this.scale = camera.scale(width, height);
  }

  pixel(place) {
    const from = minus(place, this.camera.focus);
    return [
      this.left + this.width / 2 + dot(from, this.axes[0]) * this.scale,
      this.top + this.height / 2 - dot(from, this.axes[1]) * this.scale,
    ];
  }
}
