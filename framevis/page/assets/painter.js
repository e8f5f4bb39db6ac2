// Draws bodies with WebGL 2. Warping is one uniform: shown = place + magnification × displacement.

const VERTEX = `#version 300 es
precision highp float;
in vec3 place;                 // mm, from the body's own origin
in vec3 moved0, moved1, moved2, moved3, moved4;  // µm, what each cause does to this vertex
in vec3 grows;                 // µm, a shim's thickness or a push, whatever the causes
uniform vec3 offset;           // mm, where the body's origin stands, from the focus of the view
uniform vec3 point, axis, shift, lean;  // the motion that the whole body takes: see stand.js
uniform vec2 roll;
uniform float on[5];           // 1 for a cause that is switched on
uniform float magnification;   // 0: as drawn
uniform mat3 view;
uniform vec3 scale;            // mm to clip space
uniform float nearer;
out vec3 seen;

void main() {
  vec3 stand = place + offset;
  vec3 own = on[0] * moved0 + on[1] * moved1 + on[2] * moved2 + on[3] * moved3 + on[4] * moved4 + grows;
  float x = dot(stand - point, axis);
  vec3 arm = stand - point - x * axis;
  vec3 turn = (roll.x + roll.y * x) * axis + cross(axis, lean);
  own += shift + lean * x + cross(turn, arm);
  seen = view * (stand + magnification * 0.001 * own);
  gl_Position = vec4(seen * scale, 1.0);
  gl_Position.z -= nearer;
}`;

const FRAGMENT = `#version 300 es
precision highp float;
in vec3 seen;
uniform vec3 colour;
uniform float flat_light;      // 1: lit by the face's own normal; 0: plain, for lines
out vec4 ink;

void main() {
  vec3 normal = normalize(cross(dFdx(seen), dFdy(seen)));
  float light = 0.50 + 0.34 * max(dot(normal, vec3(-0.42, 0.76, 0.50)), 0.0)
    + 0.24 * max(dot(normal, vec3(0.62, 0.10, 0.78)), 0.0);
  ink = vec4(colour * (flat_light > 0.5 ? light : 1.0), 1.0);  // a line has no normal
}`;

const EACH = 21;  // numbers a vertex: place, what five causes do, what grows

class Painter {
  // Throws where WebGL 2 is missing.
  constructor(canvas) {
    const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error("WebGL 2 is missing");
    this.gl = gl;
    this.program = this.linked();
    this.places = new Map();
    gl.useProgram(this.program);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.SCISSOR_TEST);
    gl.polygonOffset(1, 1);
    gl.depthFunc(gl.LEQUAL);
  }

  linked() {
    const { gl } = this;
    const program = gl.createProgram();
    for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
    return program;
  }

  uniform(name) {
    if (!this.places.has(name)) this.places.set(name, this.gl.getUniformLocation(this.program, name));
    return this.places.get(name);
  }

  // Take a body {vertices, faces, edges, moved, grows} to the graphics memory; moved and grows may be missing.
  load(body) {
    const { gl } = this;
    const count = body.vertices.length;
    const numbers = new Float32Array(EACH * count);
    body.vertices.forEach((vertex, i) => {
      numbers.set(vertex, EACH * i);
      if (body.moved) body.moved.forEach((cause, c) => numbers.set(cause[i], EACH * i + 3 + 3 * c));
      if (body.grows) numbers.set(body.grows[i], EACH * i + 18);
    });
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
    this.attribute("place", 0);
    for (let c = 0; c < 5; c += 1) this.attribute(`moved${c}`, 3 + 3 * c);
    this.attribute("grows", 18);
    const faces = body.faces.flatMap(([a, b, c, d]) => [a, b, c, a, c, d]);
    const index = new Uint16Array([...faces, ...body.edges.flat()]);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, index, gl.STATIC_DRAW);
    gl.bindVertexArray(null);
    return { array, faces: faces.length, edges: 2 * body.edges.length };
  }

  attribute(name, start) {
    const location = this.gl.getAttribLocation(this.program, name);
    this.gl.enableVertexAttribArray(location);
    this.gl.vertexAttribPointer(location, 3, this.gl.FLOAT, false, 4 * EACH, 4 * start);
  }

  // Begin a pane; `ratio` device pixels a pixel.
  pane(pane, ratio, ground) {
    const { gl } = this;
    const box = [pane.left, gl.canvas.height / ratio - pane.top - pane.height, pane.width, pane.height];
    const device = box.map((side) => Math.round(side * ratio));
    gl.viewport(...device);
    gl.scissor(...device);
    gl.clearColor(...ground, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const deep = 6 * pane.camera.radius;
    gl.uniformMatrix3fv(this.uniform("view"), true, pane.axes.flat());
    gl.uniform3f(this.uniform("scale"), (2 * pane.scale) / pane.width, (2 * pane.scale) / pane.height, -1 / deep);
  }

  setWarp(magnification, on) {
    this.gl.uniform1f(this.uniform("magnification"), magnification);
    this.gl.uniform1fv(this.uniform("on"), on);
  }

  // Place the body: its origin and its motion, both from the view's focus.
  setPlace(offset, motion, focus) {
    const { gl } = this;
    gl.uniform3fv(this.uniform("offset"), minus(offset, focus));
    gl.uniform3fv(this.uniform("point"), minus(motion.point, focus));
    for (const name of ["axis", "shift", "lean"]) gl.uniform3fv(this.uniform(name), motion[name]);
    gl.uniform2fv(this.uniform("roll"), motion.roll);
  }

  faces(loaded, colour, nearer = 0) {
    const { gl } = this;
    this.ink(colour, 1, nearer);
    gl.enable(gl.POLYGON_OFFSET_FILL);  // only while faces are drawn: software renderers draw lines unsteadily with it
    gl.bindVertexArray(loaded.array);
    gl.drawElements(gl.TRIANGLES, loaded.faces, gl.UNSIGNED_SHORT, 0);
    gl.disable(gl.POLYGON_OFFSET_FILL);
  }

  edges(loaded, colour, nearer) {
    const { gl } = this;
    this.ink(colour, 0, nearer);
    gl.bindVertexArray(loaded.array);
    gl.drawElements(gl.LINES, loaded.edges, gl.UNSIGNED_SHORT, 2 * loaded.faces);
  }

  ink(colour, light, nearer) {
    this.gl.uniform3fv(this.uniform("colour"), colour);
    this.gl.uniform1f(this.uniform("flat_light"), light);
    this.gl.uniform1f(this.uniform("nearer"), nearer);
  }
}
