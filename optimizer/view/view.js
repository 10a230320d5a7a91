// A small WebGL 2 renderer for layers of meshes, lines and labels, as packing.py writes them.
// Camera: an orthonormal frame (right, up, out) in the scan frame, looking along -out at `target`.
// All places are in mm about the scene's middle, in double precision but for what is drawn.
"use strict";

function cross(a, b) {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}
function dot(a, b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
function bytes(text) {
  return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
}
// A layer as packing.py writes it, with its arrays unpacked.
function unpacked(layer) {
  const parts = layer.parts.map((part) => ({
    ...part,
    points: new Float32Array(bytes(part.points)),
    corners: new Uint32Array(bytes(part.corners)),
    colours: new Uint8Array(bytes(part.colours)),
  }));
  const lines = layer.lines.map((line) => ({ ...line, ends: new Float32Array(bytes(line.ends)) }));
  return { ...layer, parts, lines };
}

// Null where the browser shows no WebGL 2. `radius` is that of a ball around everything; `hooks`
// may have `pivot(ray)`, the place to turn about, and `tapped(ray, event)`, told of each click.
function startView(canvas, stage, radius, hooks = {}) {
  const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) {
    stage.classList.add("no-view");
    return null;
  }
  const FOCAL = 4.2; // a long lens, so that parallel faces still look parallel
  const DISTANCE = FOCAL * 1.08 * radius;
  const [LEAST_ZOOM, MOST_ZOOM] = [0.25, 60];
  const TAP_PX = 5; // a pointer that moves less has clicked, not dragged
  const camera = { frame: null, target: [0, 0, 0], zoom: 1 };

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

  const DOT_VERTEX = `#version 300 es
    in vec3 position; uniform mat4 clip; uniform float wide; uniform float lift;
    void main() {
      gl_Position = clip * vec4(position, 1.0);
      gl_Position.z -= lift * gl_Position.w;
      gl_PointSize = wide;
    }`;
  const DOT_FRAGMENT = `#version 300 es
    precision mediump float;
    uniform vec3 colour; out vec4 pixel;
    void main() {
      float out_by = length(gl_PointCoord - 0.5);
      if (out_by > 0.5) discard;
      pixel = vec4(out_by > 0.36 ? vec3(1.0) : colour, 1.0);
    }`;

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
  const discs = program(DOT_VERTEX, DOT_FRAGMENT, ["position"]);

  function filled(target, data) {
    const buffer = gl.createBuffer();
    gl.bindBuffer(target, buffer);
    gl.bufferData(target, data, gl.STATIC_DRAW);
    return buffer;
  }
  function attribute(place, buffer, width, kind, normalised, stride, offset, step) {
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, width, kind, normalised, stride, offset);
    gl.vertexAttribDivisor(place, step);
  }

  function cornerNormals(points, corners) {
    const normals = new Float32Array(points.length);
    for (let f = 0; f < corners.length; f += 3) {
      const [a, b, c] = [3 * corners[f], 3 * corners[f + 1], 3 * corners[f + 2]];
      const [ux, uy, uz] = [points[b] - points[a], points[b + 1] - points[a + 1],
        points[b + 2] - points[a + 2]];
      const [vx, vy, vz] = [points[c] - points[a], points[c + 1] - points[a + 1],
        points[c + 2] - points[a + 2]];
      const [x, y, z] = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
      normals[a] += x; normals[a + 1] += y; normals[a + 2] += z;
      normals[b] += x; normals[b + 1] += y; normals[b + 2] += z;
      normals[c] += x; normals[c + 1] += y; normals[c + 2] += z;
    }
    return normals;
  }

  function meshBuffers(part) {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    const normals = cornerNormals(part.points, part.corners);
    const buffers = [part.points, normals, part.colours].map((d) => filled(gl.ARRAY_BUFFER, d));
    attribute(0, buffers[0], 3, gl.FLOAT, false, 0, 0, 0);
    attribute(1, buffers[1], 3, gl.FLOAT, false, 0, 0, 0);
    attribute(2, buffers[2], 3, gl.UNSIGNED_BYTE, true, 0, 0, 0);
    buffers.push(filled(gl.ELEMENT_ARRAY_BUFFER, part.corners));
    const { smooth, closed } = part;
    return { array, buffers, count: part.corners.length, smooth, closed };
  }

  function lineBuffers({ ends, colour, wide = 1.2 }) {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    const strip = new Float32Array([0, 0, 1, 0, 0, 1, 1, 1]);
    const buffers = [strip, ends].map((data) => filled(gl.ARRAY_BUFFER, data));
    attribute(0, buffers[0], 2, gl.FLOAT, false, 0, 0, 0);
    attribute(1, buffers[1], 3, gl.FLOAT, false, 24, 0, 1);
    attribute(2, buffers[1], 3, gl.FLOAT, false, 24, 12, 1);
    return { array, buffers, count: ends.length / 6, colour: colour.map((v) => v / 255), wide };
  }

  function dotBuffers({ places, colour }) {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    const buffers = [filled(gl.ARRAY_BUFFER, places)];
    attribute(0, buffers[0], 3, gl.FLOAT, false, 0, 0, 0);
    return { array, buffers, count: places.length / 3, colour: colour.map((v) => v / 255) };
  }

  function labelSpan(label) {
    const span = document.createElement("span");
    span.textContent = label.text;
    span.style.setProperty("--dot", label.colour);
    stage.appendChild(span);
    return { span, at: label.at };
  }

  const layers = new Map(); // drawn in the order in which their keys first came

  function setLayer(layer) {
    const old = layers.get(layer.key);
    if (old) {
      for (const { array, buffers } of [...old.parts, ...old.lines, ...old.dots]) {
        gl.deleteVertexArray(array);
        buffers.forEach((buffer) => gl.deleteBuffer(buffer));
      }
      old.labels.forEach(({ span }) => span.remove());
    }
    layers.set(layer.key, {
      opacity: layer.opacity,
      visible: old ? old.visible : layer.visible !== false,
      parts: layer.parts.map(meshBuffers),
      lines: layer.lines.map(lineBuffers),
      dots: (layer.dots || []).map(dotBuffers),
      labels: layer.labels.map(labelSpan),
    });
    drawSoon();
  }
  function show(key, visible) {
    layers.get(key).visible = visible;
    draw();
  }

  // How far a step of 1 mm at 1 mm from the eye reaches on the canvas, whose half sides are 1.
  function lens() {
    const focal = FOCAL * camera.zoom;
    return [focal * Math.min(1, canvas.height / canvas.width),
      focal * Math.min(1, canvas.width / canvas.height)];
  }

  // Column-major, as the shaders take it.
  function clipMatrix() {
    const [right, up, out] = camera.frame;
    const near = Math.max(DISTANCE - 3 * radius, 0.02 * radius);
    const far = DISTANCE + 3 * radius;
    const [across, upward] = lens();
    const deep = -(far + near) / (far - near);
    const rows = [
      [...right.map((v) => v * across), -across * dot(right, camera.target)],
      [...up.map((v) => v * upward), -upward * dot(up, camera.target)],
      [...out.map((v) => v * deep),
        deep * (-dot(out, camera.target) - DISTANCE) - (2 * far * near) / (far - near)],
      [...out.map((v) => -v), dot(out, camera.target) + DISTANCE],
    ];
    return Array.from({ length: 16 }, (_, k) => rows[k % 4][Math.floor(k / 4)]);
  }

  // Where a place is seen, in pixels from the canvas's upper left corner.
  function seenAt(at, clip = clipMatrix()) {
    const [x, y, w] = [0, 1, 3].map(
      (k) => clip[k] * at[0] + clip[k + 4] * at[1] + clip[k + 8] * at[2] + clip[k + 12]);
    return [(0.5 + (0.5 * x) / w) * canvas.clientWidth,
      (0.5 - (0.5 * y) / w) * canvas.clientHeight];
  }

  // From the eye through a point of the window: where from, and which way (1 mm deep a length).
  function ray(clientX, clientY) {
    const box = canvas.getBoundingClientRect();
    const [across, upward] = lens();
    const x = (2 * (clientX - box.left) / box.width - 1) / across;
    const y = (1 - 2 * (clientY - box.top) / box.height) / upward;
    const [right, up, out] = camera.frame;
    return {
      from: camera.target.map((v, k) => v + DISTANCE * out[k]),
      way: right.map((v, k) => x * v + y * up[k] - out[k]),
    };
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
    for (const lines of shown.flatMap((layer) => layer.lines)) {
      gl.uniform3fv(strokes.colour, lines.colour);
      gl.uniform1f(strokes.width, lines.wide * (window.devicePixelRatio || 1));
      gl.bindVertexArray(lines.array);
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, lines.count);
    }
  }

  function drawDots(clip, shown) {
    gl.useProgram(discs.self);
    gl.uniformMatrix4fv(discs.clip, false, clip);
    gl.uniform1f(discs.wide, 11 * (window.devicePixelRatio || 1));
    gl.uniform1f(discs.lift, 0.004 / Math.max(1, camera.zoom)); // clear of a surface seen slantwise
    for (const dots of shown.flatMap((layer) => layer.dots)) {
      gl.uniform3fv(discs.colour, dots.colour);
      gl.bindVertexArray(dots.array);
      gl.drawArrays(gl.POINTS, 0, dots.count);
    }
  }

  function placeLabels(clip) {
    const taken = [];
    for (const layer of layers.values()) {
      for (const { span, at } of layer.labels) {
        span.hidden = !layer.visible;
        const [left, top] = seenAt(at, clip);
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
    gl.depthFunc(gl.LEQUAL); // triangles shown a second time in another colour win
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    const clip = clipMatrix();
    const shown = [...layers.values()].filter((layer) => layer.visible);
    drawMeshes(clip, shown, false);
    drawLines(clip, shown);
    drawDots(clip, shown);
    drawMeshes(clip, shown, true);
    placeLabels(clip);
  }

  let waiting = false;
  function drawSoon() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  }

  function turned(v, axis, angle) {
    const [c, s, side] = [Math.cos(angle), Math.sin(angle), cross(axis, v)];
    const along = dot(axis, v) * (1 - c);
    return v.map((value, k) => value * c + side[k] * s + axis[k] * along);
  }
  // The pivot stays where it is seen.
  function turnAbout(axis, angle, pivot) {
    const arm = turned(camera.target.map((v, k) => v - pivot[k]), axis, angle);
    camera.target = pivot.map((v, k) => v + arm[k]);
    camera.frame = camera.frame.map((v) => turned(v, axis, angle));
  }
  function orbit(dx, dy, pivot = camera.target) {
    turnAbout(camera.frame[1], -dx, pivot);
    turnAbout(camera.frame[0], -dy, pivot);
    drawSoon();
  }
  function pan(dx, dy) {
    const [across, upward] = lens();
    const [right, up] = camera.frame;
    const x = 2 * DISTANCE * dx / canvas.clientWidth / across;
    const y = 2 * DISTANCE * dy / canvas.clientHeight / upward;
    camera.target = camera.target.map((v, k) => v - x * right[k] + y * up[k]);
    drawSoon();
  }
  // `at` (clientX, clientY) stays where it is seen; without it, the middle of the view.
  function zoom(factor, at = null) {
    const before = at && ray(...at);
    camera.zoom = Math.min(MOST_ZOOM, Math.max(LEAST_ZOOM, camera.zoom * factor));
    const after = at && ray(...at);
    if (at) {
      const shift = (k) => DISTANCE * (before.way[k] - after.way[k]);
      camera.target = camera.target.map((v, k) => v + shift(k));
    }
    drawSoon();
  }
  function look(view) {
    camera.frame = [view.right, view.up, view.out];
    camera.target = [0, 0, 0];
    camera.zoom = 1;
    drawSoon();
  }

  const fingers = new Map();
  let drag = { pivot: null, moved: 0 };
  function pinch() {
    const [a, b] = [...fingers.values()];
    return { spread: Math.max(1, Math.hypot(a.x - b.x, a.y - b.y)),
      x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  }
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    const moved = fingers.size === 1 ? 0 : Infinity; // two fingers never click
    drag = { pivot: null, moved };
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = fingers.get(event.pointerId);
    if (!last) return;
    const before = fingers.size === 2 ? pinch() : null;
    const [dx, dy] = [event.clientX - last.x, event.clientY - last.y];
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    drag.moved += Math.hypot(dx, dy);
    if (before) {
      const now = pinch();
      pan(now.x - before.x, now.y - before.y);
      zoom(now.spread / before.spread, [now.x, now.y]);
    } else if (event.shiftKey || event.buttons === 2) {
      pan(dx, dy);
    } else {
      if (!drag.pivot && hooks.pivot) drag.pivot = hooks.pivot(ray(last.x, last.y));
      orbit(dx * 0.008, dy * 0.008, drag.pivot || undefined);
    }
  });
  canvas.addEventListener("pointerup", (event) => {
    const alone = fingers.size === 1 && fingers.has(event.pointerId);
    fingers.delete(event.pointerId);
    if (alone && event.button === 0 && drag.moved < TAP_PX && hooks.tapped) {
      hooks.tapped(ray(event.clientX, event.clientY), event);
    }
  });
  canvas.addEventListener("pointercancel", (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(Math.exp(-event.deltaY * 0.0012), [event.clientX, event.clientY]);
  }, { passive: false });
  const KEYS = {
    ArrowLeft: () => orbit(-0.1, 0), ArrowRight: () => orbit(0.1, 0),
    ArrowUp: () => orbit(0, -0.1), ArrowDown: () => orbit(0, 0.1),
    "+": () => zoom(1.1), "-": () => zoom(0.9),
  };
  canvas.addEventListener("keydown", (event) => {
    if (!KEYS[event.key] || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    KEYS[event.key]();
  });

  fitCanvas();
  new ResizeObserver(() => { fitCanvas(); if (camera.frame) draw(); }).observe(canvas);
  return { draw, look, ray, seenAt, setLayer, show };
}
