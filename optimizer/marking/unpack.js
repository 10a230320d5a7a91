// The surface as surface_data.py packs it, unpacked: {points (Float64Array), corners, colours,
// longest (mm), smooth}, places in mm in the scan frame.
async function inflated(text, kindOf) {
  const stream = new Blob([bytes(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new kindOf(await new Response(stream).arrayBuffer());
}
// Whole numbers from the differences between them, whose bytes are sorted by significance.
function summed(planes, stride) {
  const count = planes.length / 4;
  const values = new Int32Array(count);
  for (let k = 0; k < count; k += 1) {
    const step = planes[k] | (planes[count + k] << 8) | (planes[2 * count + k] << 16) |
      (planes[3 * count + k] << 24);
    values[k] = k < stride ? step : values[k - stride] + step;
  }
  return values;
}
async function unpackedSurface(data) {
  const { points, corners, colours, step_mm: step, longest_mm: longest } = data.surface;
  const whole = summed(await inflated(points, Uint8Array), 3);
  const places = Float64Array.from(whole, (v, k) => data.middle[k % 3] + step * v);
  const faces = new Uint32Array(summed(await inflated(corners, Uint8Array), 1).buffer);
  const painted = colours ? await inflated(colours, Uint8Array)
    : new Uint8Array(places.length).map((_, k) => data.plain[k % 3]);
  const smooth = faces.length >= 3 * data.smooth_from;
  return { points: places, corners: faces, colours: painted, longest, smooth };
}
