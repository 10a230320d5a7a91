// How marks are drawn: `shownBy` returns a function from marks with their fits to a layer of the 3D
// view. The places of a layer are relative to the scene's middle.
function shownBy(surface, data) {
  function near(points) {
    return new Float32Array(points.flatMap((p) => minus(p, data.middle)));
  }
  function skinEnds(fit) {
    const height = heightOf(fit);
    if (!height) return fit.from ? near([fit.from, fit.to]) : null;
    const ends = skinLine(surface, height);
    for (let k = 0; k < ends.length; k += 1) ends[k] -= data.middle[k % 3];
    return new Float32Array(ends);
  }
  function axisEnds(fit) {
    const half = fit.way.map((v) => 1.15 * data.radius * v);
    return near([minus(data.middle, half), data.middle.map((v, k) => v + half[k])]);
  }
  function layerOf(key, shown) {
    const layer = { key, opacity: 1, parts: [], lines: [], labels: [], dots: [] };
    for (const { mark, fit } of shown) {
      const colour = data.colours[KINDS[mark.kind].axis ? "axis" : KINDS[mark.kind].place];
      const rgb = [1, 3, 5].map((k) => parseInt(colour.slice(k, k + 2), 16));
      if (mark.points.length) layer.dots.push({ places: near(mark.points), colour: rgb });
      for (const faces of (fit && fit.found) || []) layer.parts.push(tinted(faces, rgb));
      const ends = fit && (fit.kind === "axis" ? axisEnds(fit) : skinEnds(fit));
      if (ends) layer.lines.push({ ends, colour: rgb, wide: 2 });
      if (fit) layer.labels.push({ at: minus(mark.points[0], data.middle), text: mark.name, colour });
      if (fit && KINDS[mark.kind].sides) layer.labels.push(...sideLabels(mark, fit));
    }
    return layer;
  }
  // A tinted copy of some triangles of the surface.
  function tinted(faces, rgb) {
    const [places, colours, numbers] = [[], [], new Map()];
    const corners = Uint32Array.from({ length: 3 * faces.length }, (_, k) => {
      const corner = surface.corners[3 * faces[Math.floor(k / 3)] + (k % 3)];
      if (!numbers.has(corner)) {
        numbers.set(corner, numbers.size);
        for (let i = 0; i < 3; i += 1) {
          places.push(surface.points[3 * corner + i] - data.middle[i]);
          colours.push(0.45 * surface.colours[3 * corner + i] + 0.55 * rgb[i]);
        }
      }
      return numbers.get(corner);
    });
    return { points: new Float32Array(places), corners, colours: new Uint8Array(colours),
      smooth: surface.smooth, closed: false };
  }
  // The colours' names on their sides of the boundary, near the middle of the points.
  function sideLabels(mark, fit) {
    const height = heightOf(fit);
    return bothSides(fit, 0.16 * data.radius).map((place) => {
      const { name, srgb } = height(...place) > 0 ? mark.towards : mark.away;
      return { at: minus(place, data.middle), text: name, colour: srgb };
    });
  }

  return layerOf;
}
