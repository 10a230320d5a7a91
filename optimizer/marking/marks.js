// The kinds of marks: for each, the shape fitted to its points and its lines for the rough file.
// A mark is {kind, name, points, ...its fields}. The `fit` of a kind turns a mark into the shape
// that is shown and written, or throws a FitFault that says what is missing. Places are in mm in the
// scan frame; `hit` is the triangle that was clicked.

// Numbers of the rough file: a tenth of a micrometre, and a direction to as much over 1 m.
function numberText(value, digits) {
  return String(Number(value.toFixed(digits)) + 0);
}
function pointText(point) {
  return "[" + point.map((v) => numberText(v, 4)).join(", ") + "]";
}
function wayText(way) {
  return "[" + way.map((v) => numberText(v, 7)).join(", ") + "]";
}
// A name as rough files take it: on one line, and all of it printable.
function printable(text) {
  return text.replace(/[\p{C}\p{Z}]+/gu, " ").trim();
}
function quoted(text) {
  return JSON.stringify(text); // of what is printable, JSON's escapes are TOML's
}
function colourText({ name, srgb }) {
  return `{ colour = ${quoted(name)}` + (srgb ? `, srgb = ${quoted(srgb)} }` : " }");
}
function farthest(points, from) {
  return Math.max(...points.map((p) => length(minus(p, from))));
}
function flatsOf(mark, surface, count, what) {
  needing(mark.points, count, what);
  if (!surface.flats) surface.flats = new Map(); // kept, since every key typed asks again
  return mark.points.slice(0, count).map((at, k) => {
    if (!surface.flats.has(at)) {
      surface.flats.set(at, flatAround(surface, { at, face: mark.hits[k] }, surface.longest));
    }
    return surface.flats.get(at);
  });
}

// The rough file names the face that is the window: a known face, else a new one.
function sameFlat(face, fit) {
  return dot(face.normal, fit.normal) > 0.999 &&
    Math.abs(dot(face.normal, fit.middle) - face.offset) < WIDEST_BAND_MM;
}
function windowOf(mark, fit) {
  const face = mark.known.find((known) => sameFlat(known, fit));
  return face ? face.name : `window to ${mark.name}`;
}

const KINDS = {
  plane: {
    title: "Colour boundary: flat", place: "zones", named: "boundary",
    sides: ["Colour on one side", "Colour on the other side"],
    hint: "Click three or more points along the line where the colour changes, far apart.",
    fit: ({ points }) => {
      const fit = planeFit(points);
      return { ...fit, bends: bendOf(fit, points) };
    },
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middle)}`, `normal = ${wayText(fit.normal)}`],
  },
  band: {
    title: "Colour boundary: a band", place: "zones", named: "band", faces: true,
    sides: ["Colour in the band", "Colour on both sides of the band"],
    hint: "Click points along one edge of the band, switch to the other face, click along its edge.",
    fit: ({ points, faces }) => bandFit(...[0, 1].map((k) => points.filter((_, i) => faces[i] === k))),
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middles[0])}`,
      `normal = ${wayText(fit.normal)}`, `thick_mm = ${numberText(fit.thick, 4)}`],
  },
  ball: {
    title: "Colour boundary: part of a ball", place: "zones", named: "core",
    sides: ["Colour inside the ball", "Colour outside the ball"],
    hint: "Click five or more points along the line where the colour changes, not all in one plane.",
    fit: ({ points }) => ballFit(points),
    lines: (mark, fit) => [`centre_mm = ${pointText(fit.centre)}`,
      `radius_mm = ${numberText(fit.radius, 4)}`],
  },
  flat: {
    title: "Flat place to measure from", place: "reference_faces", named: "flat",
    hint: "Click once on a flat place: the page finds all of it. Or click three or more points on it.",
    fit: (mark, surface) => {
      needing(mark.points, 1, "a flat place");
      if (mark.points.length === 1) return flatsOf(mark, surface, 1, "")[0];
      const fit = planeFit(mark.points);
      const facing = mark.hits.reduce(
        (sum, hit) => sum + dot(acrossOf(cornersOf(surface, hit)), fit.normal), 0);
      if (facing > 0) return fit;
      return { ...fit, normal: fit.normal.map((v) => -v), offset: -fit.offset };
    },
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middle)}`, `normal = ${wayText(fit.normal)}`],
  },
  spot: {
    title: "Flaw: a point", place: "flaws", named: "inclusion", radius: true,
    hint: "Click the place on the surface where the flaw shows.",
    fit: ({ points }) => {
      needing(points, 1, "a point");
      return { kind: "point", middle: points[points.length - 1] };
    },
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middle)}`],
  },
  needle: {
    title: "Flaw: a line", place: "flaws", named: "needle", radius: true,
    hint: "Click both ends: where the needle or tube comes out of the surface.",
    fit: ({ points }) => {
      needing(points, 2, "a line");
      const [from, to] = points.slice(-2);
      if (length(minus(to, from)) < 1e-3) throw new FitFault("Both ends lie in the same place.");
      return { kind: "line", middle: meanOf([from, to]), from, to };
    },
    lines: (mark, fit) => [`from_mm = ${pointText(fit.from)}`, `to_mm = ${pointText(fit.to)}`],
  },
  crack: {
    title: "Flaw: a crack", place: "flaws", named: "crack", radius: true, through: true,
    hint: "Click three or more points along the crack where it comes to the surface.",
    fit: ({ points }) => {
      const fit = planeFit(points);
      return { ...fit, across: 2 * farthest(points, fit.middle) };
    },
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middle)}`, `normal = ${wayText(fit.normal)}`,
      ...(mark.through ? [] : [`across_mm = ${numberText(fit.across, 4)}`])],
  },
  window: {
    title: "Flaw: seen through a flat window", place: "flaws", named: "inclusion", radius: true,
    depth: true,
    hint: "Look square into a flat polished window and click the place on it where the flaw shows.",
    fit: (mark, surface) => {
      const [flat] = flatsOf(mark, surface, 1, "the place on the window");
      if (!(mark.depth > 0)) throw new FitFault("Say how deep the flaw seems to lie.");
      return { ...flat, kind: "window", middle: mark.points[0] };
    },
    lines: (mark, fit) => [`point_mm = ${pointText(fit.middle)}`,
      `window = ${quoted(windowOf(mark, fit))}`,
      `apparent_depth_mm = ${numberText(mark.depth, 4)}`],
    before: (mark, fit) => (mark.known.some((face) => sameFlat(face, fit)) ? []
      : ["[[reference_faces]]", `name = ${quoted(windowOf(mark, fit))}`,
        `point_mm = ${pointText(fit.normal.map((v) => v * fit.offset))}`,
        `normal = ${wayText(fit.normal)}`, ""]),
  },
  axisPoints: {
    title: "c axis: along two points", axis: true,
    hint: "Click two points that lie along the axis, such as both ends of a prism edge.",
    fit: ({ points }) => {
      needing(points, 2, "an axis");
      const [from, to] = points.slice(-2);
      if (length(minus(to, from)) < 1e-3) throw new FitFault("Both points lie in the same place.");
      return { kind: "axis", way: unit(minus(to, from)), middle: meanOf([from, to]) };
    },
  },
  axisFlat: {
    title: "c axis: square to a flat place", axis: true,
    hint: "Click once on a flat place that is square to the axis.",
    fit: (mark, surface) => {
      const [flat] = flatsOf(mark, surface, 1, "a flat place");
      return { ...flat, kind: "axis", way: flat.normal };
    },
  },
  axisPrism: {
    title: "c axis: along prism faces", axis: true,
    hint: "Click once on each of two prism faces that meet at an angle: the axis runs along both. " +
      "Where the crystal tapers, click three or more: the axis is at the same angle to all.",
    fit: (mark, surface) => {
      needing(mark.points, 2, "prism faces");
      const flats = flatsOf(mark, surface, mark.points.length, "prism faces");
      return { kind: "axis", way: prismAxis(flats.map(({ normal }) => normal)),
        middle: meanOf(mark.points), found: flats.flatMap(({ found }) => found),
        rms: Math.max(...flats.map(({ rms }) => rms)),
        worst: Math.max(...flats.map(({ worst }) => worst)) };
    },
  },
};

// The radius of a ball that fits a boundary's points far better than a plane; null where none does.
function bendOf(fit, points) {
  if (fit.spare < 3 || fit.worst < 0.1) return null;
  try {
    const ball = ballFit(points);
    return ball.rms < fit.rms / 3 ? ball.radius : null;
  } catch (fault) {
    if (fault instanceof FitFault) return null;
    throw fault;
  }
}

// The boundary of a fit as a height function for drawing, positive towards the first colour; null
// where the fit is no boundary.
function heightOf(fit) {
  const [x, y, z] = fit.normal || [0, 0, 0];
  if (fit.kind === "plane") return (a, b, c) => x * a + y * b + z * c - fit.offset;
  if (fit.kind === "band") {
    return (a, b, c) => {
      const along = x * a + y * b + z * c;
      return Math.min(along - fit.offsets[0], fit.offsets[1] - along);
    };
  }
  if (fit.kind === "ball") {
    return (a, b, c) => fit.radius - Math.hypot(a - fit.centre[0], b - fit.centre[1], c - fit.centre[2]);
  }
  return null;
}

// Two places, one on either side of a boundary, `reach` mm from it or less.
function bothSides(fit, reach) {
  const [at, way] = fit.kind === "ball" ? [fit.middle, unit(minus(fit.middle, fit.centre))]
    : [fit.kind === "band" ? fit.middles[0] : fit.middle, fit.normal];
  const step = fit.kind === "band" ? Math.min(reach, fit.thick / 2) : reach;
  return [-step, step].map((far) => at.map((v, k) => v + far * way[k]));
}

// How well the shape fits the points, as sentences.
function fitText(fit) {
  const said = [];
  const mm = (value) => (value < 0.0995 ? value.toFixed(3) : value.toFixed(2)) + " mm";
  if (fit.kind === "axis") {
    said.push(`The axis runs along ${wayText(fit.way.map((v) => Math.round(v * 1e4) / 1e4))}.`);
  }
  if (fit.area) said.push(`Found: ${fit.area.toFixed(1)} mm² of the surface.`);
  if (fit.across) said.push(`${fit.across.toFixed(2)} mm across, as far as the points reach.`);
  if (fit.thick) said.push(`${fit.thick.toFixed(2)} mm thick.`);
  if (fit.radius) said.push(`A radius of ${fit.radius.toFixed(2)} mm.`);
  if (fit.kind === "window") said.push("The true depth is computed from refraction when the file is read.");
  if (fit.kind === "point") said.push(`At ${pointText(fit.middle)} mm.`);
  if (fit.kind === "line") said.push(`${length(minus(fit.to, fit.from)).toFixed(2)} mm long.`);
  if (fit.spare === 0) {
    said.push("So few points always fit exactly: add more to see how well they agree.");
  } else if (fit.rms !== undefined) {
    said.push(`Off by ${mm(fit.rms)} rms, ${mm(fit.worst)} at worst.`);
  }
  if (fit.bends) {
    said.push(`The boundary bends: a ball of ${fit.bends.toFixed(1)} mm radius fits far better.`);
  }
  return said.join(" ");
}

// A mark's lines; an axis is one line, which belongs above the first table of the file.
function markLines(mark, fit) {
  const kind = KINDS[mark.kind];
  if (kind.axis) return [`optic_axis = ${wayText(fit.way)}`];
  const before = kind.before ? kind.before(mark, fit) : [];
  const lines = [...before, `[[${kind.place}]]`, `name = ${quoted(mark.name)}`, ...kind.lines(mark, fit)];
  if (kind.sides) {
    lines.push(`towards = ${colourText(mark.towards)}`, `away = ${colourText(mark.away)}`);
  }
  if (kind.radius && mark.radius > 0) lines.push(`radius_mm = ${numberText(mark.radius, 4)}`);
  return lines;
}

// {fresh, whole}: the marks' own lines, and the whole rough file with them in their places.
function roughFile(base, marks) {
  const axes = marks.filter(({ mark }) => KINDS[mark.kind].axis).slice(-1);
  const tables = marks.filter(({ mark }) => !KINDS[mark.kind].axis);
  const text = (list) => list.map(({ mark, fit }) => markLines(mark, fit).join("\n")).join("\n\n");
  const kept = axes.length ? base.head.filter((line) => !/^optic_axis *=/.test(line)) : base.head;
  const head = [...kept, ...axes.map(({ mark, fit }) => markLines(mark, fit)[0])].join("\n");
  const parts = [head, base.tables.join("\n"), text(tables)].filter((part) => part.trim());
  return { fresh: [text(axes), text(tables)].filter(Boolean).join("\n\n"),
    whole: parts.join("\n\n") + "\n" };
}
