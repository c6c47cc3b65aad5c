// A model that turns: no library, no network. Positions are 16-bit in the model's box; faces are lit by their slope.
"use strict";
for (const canvas of document.querySelectorAll("canvas.model")) {
  const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) { canvas.closest("figure").classList.add("flat"); continue; }
  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  const points = new Uint16Array(bytes(canvas.dataset.points)), tints = new Uint8Array(bytes(canvas.dataset.tints));
  const faces = new Uint32Array(bytes(canvas.dataset.faces)), size = canvas.dataset.size.split(" ").map(Number);
  const shader = (kind, source) => {
    const made = gl.createShader(kind);
    gl.shaderSource(made, "#version 300 es\nprecision highp float;\n" + source);
    gl.compileShader(made);
    return made;
  };
  const program = gl.createProgram();
  gl.attachShader(program, shader(gl.VERTEX_SHADER, `
    in vec3 at; in vec3 tint; uniform mat3 turn; uniform vec3 size; uniform vec2 scale; out vec3 ink; out vec3 spot;
    void main() {
      spot = turn * ((at - 0.5) * size); ink = tint;
      gl_Position = vec4(spot.xy * scale, -spot.z / length(size), 1.0);
    }`));
  gl.attachShader(program, shader(gl.FRAGMENT_SHADER, `
    in vec3 ink; in vec3 spot; out vec4 colour;
    void main() {
      vec3 n = normalize(cross(dFdx(spot), dFdy(spot)));
      colour = vec4(ink * (0.45 + 0.55 * abs(dot(n, normalize(vec3(0.35, 0.5, 0.8))))), 1.0);
    }`));
  gl.linkProgram(program);
  gl.useProgram(program);
  const feed = (name, data, kind, count) => {
    const place = gl.getAttribLocation(program, name);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, count, kind, true, 0, 0);
  };
  feed("at", points, gl.UNSIGNED_SHORT, 3);
  feed("tint", tints, gl.UNSIGNED_BYTE, 3);
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, faces, gl.STATIC_DRAW);
  gl.enable(gl.DEPTH_TEST);
  const where = (name) => gl.getUniformLocation(program, name);
  // seen from the front left and above: x of the vehicle is rearward, y to the right, z up
  let round = 0.8, over = 0.5, zoom = 1.5;
  const draw = () => {
    const wide = canvas.clientWidth, tall = canvas.clientHeight, ratio = Math.min(devicePixelRatio || 1, 2);
    canvas.width = wide * ratio; canvas.height = tall * ratio;
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const c = Math.cos(round), s = Math.sin(round), a = Math.cos(over), b = Math.sin(over);
    // columns: where x, y and z of the vehicle go on the screen
    gl.uniformMatrix3fv(where("turn"), false, [s, b * c, -a * c, -c, b * s, -a * s, 0, a, b]);
    gl.uniform3fv(where("size"), size);
    const half = Math.hypot(...size) / 2 / zoom * Math.max(1, tall / wide);
    gl.uniform2f(where("scale"), tall / wide / half, 1 / half);
    gl.drawElements(gl.TRIANGLES, faces.length, gl.UNSIGNED_INT, 0);
  };
  const turn = (x, y) => { round += x; over = Math.max(-1.5, Math.min(1.5, over + y)); draw(); };
  canvas.addEventListener("pointerdown", (e) => canvas.setPointerCapture(e.pointerId));
  canvas.addEventListener("pointermove", (e) => { if (e.buttons) turn(-e.movementX * 0.01, e.movementY * 0.01); });
  canvas.addEventListener("wheel", (e) => {
    e.preventDefault(); zoom = Math.max(0.5, Math.min(6, zoom * Math.exp(-e.deltaY * 0.001))); draw();
  }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [0.1, 0], ArrowRight: [-0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[e.key];
    if (step) { e.preventDefault(); turn(...step); }
  });
  addEventListener("resize", draw);
  draw();
}
