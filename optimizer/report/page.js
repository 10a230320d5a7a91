// The 3D view: a small WebGL 2 renderer for the layers that page.py writes beside it.
// Camera: an orthonormal frame (right, up, out) in the scan frame, looking along -out at `target`.
(function () {
  "use strict";
  const scene = JSON.parse(document.getElementById("scene-data").textContent);
  const canvas = document.getElementById("scene");
  const stage = document.getElementById("stage");
  const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) {
    stage.classList.add("no-view");
    return;
  }
  const FOCAL = 4.2; // a long lens, so that parallel faces still look parallel
  const camera = { frame: null, target: [0, 0, 0], distance: 0 };

  const MESH_VERTEX = `#version 300 es
    in vec3 position; in vec3 normal; in vec3 colour;
    uniform mat4 clip; uniform mat3 turn;
    out vec3 shade; out vec3 seen; out vec3 facing;
    void main() {
      gl_Position = clip * vec4(position, 1.0);
      seen = turn * position; facing = turn * normal; shade = colour;
    }`;
  const MESH_FRAGMENT = `#version 300 es
    precision highp float;
    in vec3 shade; in vec3 seen; in vec3 facing;
    uniform float opacity; uniform bool smoothed; uniform bool glassy;
    out vec4 pixel;
    void main() {
      vec3 n = normalize(smoothed ? facing : cross(dFdx(seen), dFdy(seen)));
      if (n.z < 0.0) n = -n;
      float light = 0.42 + 0.46 * max(0.0, dot(n, normalize(vec3(-0.5, 0.7, 0.8))))
                         + 0.22 * max(0.0, dot(n, normalize(vec3(0.8, -0.1, 0.5))));
      float rim = glassy ? 0.45 + 1.3 * pow(1.0 - n.z, 1.6) : 1.0;
      pixel = vec4(shade * light, min(1.0, opacity * rim));
    }`;
  const LINE_VERTEX = `#version 300 es
    in vec2 corner; in vec3 start; in vec3 end;
    uniform mat4 clip; uniform vec2 size; uniform float width;
    void main() {
      vec4 a = clip * vec4(start, 1.0), b = clip * vec4(end, 1.0);
      vec2 along = (b.xy / b.w - a.xy / a.w) * size;
      along = length(along) > 0.0 ? normalize(along) : vec2(1.0, 0.0);
      vec4 p = corner.x < 0.5 ? a : b;
      p.xy += vec2(-along.y, along.x) * (corner.y - 0.5) * 2.0 * width / size * p.w;
      p.z -= 0.0006 * p.w;
      gl_Position = p;
    }`;
  const LINE_FRAGMENT = `#version 300 es
    precision mediump float;
    uniform vec3 colour; out vec4 pixel;
    void main() { pixel = vec4(colour, 1.0); }`;

  function program(vertex, fragment, attributes) {
    const made = gl.createProgram();
    [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]].forEach(([kind, text]) => {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) {
        throw new Error(gl.getShaderInfoLog(shader));
      }
      gl.attachShader(made, shader);
    });
    attributes.forEach((name, place) => gl.bindAttribLocation(made, place, name));
    gl.linkProgram(made);
    return new Proxy({}, {
      get: (_, name) => (name === "self" ? made : gl.getUniformLocation(made, name)),
    });
  }
  const meshes = program(MESH_VERTEX, MESH_FRAGMENT, ["position", "normal", "colour"]);
  const strokes = program(LINE_VERTEX, LINE_FRAGMENT, ["corner", "start", "end"]);

  function bytes(text) {
    return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
  }

  function upload(place, data, width, kind, normalised, stride, offset, step) {
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, width, kind, normalised, stride, offset);
    gl.vertexAttribDivisor(place, step);
  }

  function cornerNormals(points, corners) {
    const normals = new Float32Array(points.length);
    for (let f = 0; f < corners.length; f += 3) {
      const [a, b, c] = [3 * corners[f], 3 * corners[f + 1], 3 * corners[f + 2]];
      const u = [0, 1, 2].map((k) => points[b + k] - points[a + k]);
      const v = [0, 1, 2].map((k) => points[c + k] - points[a + k]);
      cross(u, v).forEach((value, k) => [a, b, c].forEach((at) => (normals[at + k] += value)));
    }
    return normals;
  }

  function meshBuffers(part) {
    const points = new Float32Array(bytes(part.points));
    const corners = new Uint32Array(bytes(part.corners));
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    upload(0, points, 3, gl.FLOAT, false, 0, 0, 0);
    upload(1, cornerNormals(points, corners), 3, gl.FLOAT, false, 0, 0, 0);
    upload(2, new Uint8Array(bytes(part.colours)), 3, gl.UNSIGNED_BYTE, true, 0, 0, 0);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, corners, gl.STATIC_DRAW);
    return { array, count: corners.length, smooth: part.smooth, closed: part.closed };
  }

  function lineBuffers(lines) {
    const ends = new Float32Array(bytes(lines.ends));
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    upload(0, new Float32Array([0, 0, 1, 0, 0, 1, 1, 1]), 2, gl.FLOAT, false, 0, 0, 0);
    upload(1, ends, 3, gl.FLOAT, false, 24, 0, 1);
    upload(2, ends, 3, gl.FLOAT, false, 24, 12, 1);
    return { array, count: ends.length / 6, colour: lines.colour.map((value) => value / 255) };
  }

  function labelSpan(label) {
    const span = document.createElement("span");
    span.textContent = label.text;
    span.style.setProperty("--dot", label.colour);
    stage.appendChild(span);
    return { span, at: label.at };
  }

  const layers = scene.layers.map((layer) => ({
    opacity: layer.opacity,
    shown: document.getElementById("layer-" + layer.key),
    parts: layer.parts.map(meshBuffers),
    lines: layer.lines.map(lineBuffers),
    labels: layer.labels.map(labelSpan),
  }));

  function cross(a, b) {
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  }
  function dot(a, b) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  }

  // Column-major, as the shaders take it.
  function clipMatrix() {
    const [right, up, out] = camera.frame;
    const near = Math.max(camera.distance - 3 * scene.radius, 0.02 * scene.radius);
    const far = camera.distance + 3 * scene.radius;
    const across = FOCAL * Math.min(1, canvas.height / canvas.width);
    const upward = FOCAL * Math.min(1, canvas.width / canvas.height);
    const deep = -(far + near) / (far - near);
    const rows = [
      [...right.map((v) => v * across), -across * dot(right, camera.target)],
      [...up.map((v) => v * upward), -upward * dot(up, camera.target)],
      [...out.map((v) => v * deep),
        deep * (-dot(out, camera.target) - camera.distance) - (2 * far * near) / (far - near)],
      [...out.map((v) => -v), dot(out, camera.target) + camera.distance],
    ];
    return new Float32Array(16).map((_, k) => rows[k % 4][Math.floor(k / 4)]);
  }

  function fitCanvas() {
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.max(1, Math.round(canvas.clientWidth * ratio));
    canvas.height = Math.max(1, Math.round(canvas.clientHeight * ratio));
  }

  function drawParts(layer) {
    const translucent = layer.opacity < 1;
    gl.uniform1f(meshes.opacity, layer.opacity);
    for (const part of layer.parts) {
      gl.uniform1i(meshes.smoothed, part.smooth ? 1 : 0);
      gl.uniform1i(meshes.glassy, translucent && part.closed ? 1 : 0);
      gl.bindVertexArray(part.array);
      for (const side of part.closed ? [gl.FRONT, gl.BACK] : [null]) {
        if (side === null) gl.disable(gl.CULL_FACE);
        else { gl.enable(gl.CULL_FACE); gl.cullFace(side); }
        gl.drawElements(gl.TRIANGLES, part.count, gl.UNSIGNED_INT, 0);
      }
    }
    gl.disable(gl.CULL_FACE);
  }

  function drawMeshes(clip, shown, translucent) {
    gl.useProgram(meshes.self);
    gl.uniformMatrix4fv(meshes.clip, false, clip);
    const [r, u, o] = camera.frame;
    gl.uniformMatrix3fv(meshes.turn, false, [0, 1, 2].flatMap((k) => [r[k], u[k], o[k]]));
    gl.depthMask(!translucent);
    shown.filter((layer) => (layer.opacity < 1) === translucent).forEach(drawParts);
    gl.depthMask(true);
  }

  function drawLines(clip, shown) {
    gl.useProgram(strokes.self);
    gl.uniformMatrix4fv(strokes.clip, false, clip);
    gl.uniform2f(strokes.size, canvas.width, canvas.height);
    gl.uniform1f(strokes.width, 1.2 * (window.devicePixelRatio || 1));
    for (const lines of shown.flatMap((layer) => layer.lines)) {
      gl.uniform3fv(strokes.colour, lines.colour);
      gl.bindVertexArray(lines.array);
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, lines.count);
    }
  }

  function placeLabels(clip) {
    const taken = [];
    for (const layer of layers) {
      for (const { span, at } of layer.labels) {
        const [x, y, w] = [0, 1, 3].map(
          (k) => clip[k] * at[0] + clip[k + 4] * at[1] + clip[k + 8] * at[2] + clip[k + 12]);
        span.hidden = !layer.shown.checked;
        const left = (0.5 + (0.5 * x) / w) * canvas.clientWidth;
        const top = (0.5 - (0.5 * y) / w) * canvas.clientHeight;
        span.style.left = left.toFixed(1) + "px";
        span.style.top = top.toFixed(1) + "px";
        if (!span.hidden) span.style.setProperty("--shift", freeShift(span, left, top, taken) + "px");
      }
    }
  }

  // How far down a label must move so that it covers none of those placed before it.
  function freeShift(span, left, top, taken) {
    const [wide, tall] = [span.offsetWidth, span.offsetHeight];
    let shift = 0;
    const covers = (box) => Math.abs(box.top - top - shift) < tall &&
      left < box.left + box.wide && box.left < left + wide;
    while (taken.some(covers)) shift += 2;
    taken.push({ left, top: top + shift, wide });
    return shift;
  }

  function draw() {
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    const clip = clipMatrix();
    const shown = layers.filter((layer) => layer.shown.checked);
    drawMeshes(clip, shown, false);
    drawLines(clip, shown);
    drawMeshes(clip, shown, true);
    placeLabels(clip);
  }

  let waiting = false;
  function drawSoon() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  }

  function turnAbout(axis, angle) {
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    camera.frame = camera.frame.map((v) => {
      const [side, along] = [cross(axis, v), dot(axis, v) * (1 - c)];
      return v.map((value, k) => value * c + side[k] * s + axis[k] * along);
    });
  }
  function orbit(dx, dy) {
    turnAbout(camera.frame[1], -dx);
    turnAbout(camera.frame[0], -dy);
    drawSoon();
  }
  function pan(dx, dy) {
    const step = camera.distance / FOCAL / Math.min(canvas.clientWidth, canvas.clientHeight) * 2;
    const [right, up] = camera.frame;
    camera.target = camera.target.map((v, k) => v - step * (dx * right[k] - dy * up[k]));
    drawSoon();
  }
  function zoom(factor) {
    const [least, most] = [1.3, 16].map((times) => times * scene.radius);
    camera.distance = Math.min(most, Math.max(least, camera.distance * factor));
    drawSoon();
  }
  function look(view) {
    camera.frame = [view.right, view.up, view.out];
    camera.target = [0, 0, 0];
    camera.distance = FOCAL * 1.08 * scene.radius;
    drawSoon();
  }

  const fingers = new Map();
  function spread() {
    const [a, b] = [...fingers.values()];
    return Math.hypot(a.x - b.x, a.y - b.y);
  }
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = fingers.get(event.pointerId);
    if (!last) return;
    const before = fingers.size === 2 ? spread() : 0;
    const [dx, dy] = [event.clientX - last.x, event.clientY - last.y];
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (fingers.size === 2) zoom(before / Math.max(1, spread()));
    else if (event.shiftKey || event.buttons === 2) pan(dx, dy);
    else orbit(dx * 0.008, dy * 0.008);
  });
  for (const name of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(name, (event) => fingers.delete(event.pointerId));
  }
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(Math.exp(event.deltaY * 0.0012));
  }, { passive: false });
  const KEYS = {
    ArrowLeft: () => orbit(-0.1, 0), ArrowRight: () => orbit(0.1, 0),
    ArrowUp: () => orbit(0, -0.1), ArrowDown: () => orbit(0, 0.1),
    "+": () => zoom(0.9), "-": () => zoom(1.1),
  };
  canvas.addEventListener("keydown", (event) => {
    if (!KEYS[event.key]) return;
    event.preventDefault();
    KEYS[event.key]();
  });
  scene.views.forEach((view, index) => {
    document.getElementById("view-" + (index + 1)).addEventListener("click", () => look(view));
  });
  layers.forEach((layer) => layer.shown.addEventListener("change", draw));
  new ResizeObserver(() => { fitCanvas(); draw(); }).observe(canvas);

  fitCanvas();
  look(scene.views[0]);
  draw();
})();
