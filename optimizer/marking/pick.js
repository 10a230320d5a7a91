// The surface that is clicked on: which triangle a ray meets first, and the flat place around it.
// `mesh`: points (Float64Array, 3 a corner point, mm), corners (Uint32Array, 3 a triangle).

// {at, face} where the ray first meets the surface, or null; in double precision, each triangle in
// turn (Möller and Trumbore, Fast minimum storage ray-triangle intersection, 1997).
function pick(mesh, { from, way }) {
  const { points, corners } = mesh;
  const [fx, fy, fz] = from;
  const [wx, wy, wz] = way;
  let [nearest, face] = [Infinity, -1];
  for (let f = 0; f < corners.length; f += 3) {
    const [a, b, c] = [3 * corners[f], 3 * corners[f + 1], 3 * corners[f + 2]];
    const ax = points[a], ay = points[a + 1], az = points[a + 2];
    const ux = points[b] - ax, uy = points[b + 1] - ay, uz = points[b + 2] - az;
    const vx = points[c] - ax, vy = points[c + 1] - ay, vz = points[c + 2] - az;
    const px = wy * vz - wz * vy, py = wz * vx - wx * vz, pz = wx * vy - wy * vx;
    const scale = ux * px + uy * py + uz * pz;
    if (scale === 0) continue;
    const tx = fx - ax, ty = fy - ay, tz = fz - az;
    const u = (tx * px + ty * py + tz * pz) / scale;
    if (u < 0 || u > 1) continue;
    const qx = ty * uz - tz * uy, qy = tz * ux - tx * uz, qz = tx * uy - ty * ux;
    const v = (wx * qx + wy * qy + wz * qz) / scale;
    if (v < 0 || u + v > 1) continue;
    const depth = (vx * qx + vy * qy + vz * qz) / scale;
    if (depth > 0 && depth < nearest) [nearest, face] = [depth, f / 3];
  }
  return face < 0 ? null : { at: from.map((v, k) => v + nearest * way[k]), face };
}

function cornersOf(mesh, face) {
  return [0, 1, 2].map((k) => {
    const at = 3 * mesh.corners[3 * face + k];
    return [mesh.points[at], mesh.points[at + 1], mesh.points[at + 2]];
  });
}

// The triangles at each corner point: those of point p are faces[first[p]] to faces[first[p+1]-1].
function facesAtPoints(mesh) {
  const first = new Uint32Array(mesh.points.length / 3 + 1);
  for (const p of mesh.corners) first[p + 1] += 1;
  for (let p = 1; p < first.length; p += 1) first[p] += first[p - 1];
  const next = first.slice();
  const faces = new Uint32Array(mesh.corners.length);
  mesh.corners.forEach((p, k) => { faces[next[p]++] = Math.floor(k / 3); });
  return { first, faces };
}

// The triangles in one piece with `start` for which `wanted(corners)` holds.
function grown(mesh, start, wanted) {
  if (!mesh.at) mesh.at = facesAtPoints(mesh);
  const { first, faces } = mesh.at;
  const seen = new Uint8Array(mesh.corners.length / 3);
  const found = [start];
  seen[start] = 1;
  for (let k = 0; k < found.length; k += 1) {
    for (let c = 0; c < 3; c += 1) {
      const p = mesh.corners[3 * found[k] + c];
      for (let i = first[p]; i < first[p + 1]; i += 1) {
        const face = faces[i];
        if (seen[face]) continue;
        seen[face] = 1;
        if (wanted(cornersOf(mesh, face))) found.push(face);
      }
    }
  }
  return found;
}

// The plane nearest to triangles, each weighted by its area, with its normal on their side. Over a
// triangle with centre c and corners v the mean of x xᵀ is exactly (9 c cᵀ + Σ v vᵀ)/12.
function surfaceFit(mesh, faces) {
  const origin = cornersOf(mesh, faces[0])[0];
  let area = 0;
  const [facing, first, second] = [[0, 0, 0], [0, 0, 0], [0, 0, 0, 0, 0, 0]];
  for (const face of faces) {
    const corners = cornersOf(mesh, face).map((corner) => minus(corner, origin));
    const across = acrossOf(corners);
    const share = length(across) / 2;
    const centre = meanOf(corners);
    const [own, middle] = [secondMoments(corners), secondMoments([centre])];
    area += share;
    for (let k = 0; k < 3; k += 1) { facing[k] += across[k]; first[k] += share * centre[k]; }
    for (let k = 0; k < 6; k += 1) second[k] += (share * (9 * middle[k] + own[k])) / 12;
  }
  const mean = first.map((v) => v / area);
  const lever = secondMoments([mean]);
  const least = flatNormal(second.map((v, k) => v / area - lever[k]));
  const normal = dot(least, facing) < 0 ? least.map((v) => -v) : least;
  const middle = mean.map((v, k) => v + origin[k]);
  return { kind: "flat", normal, offset: dot(normal, middle), middle, area, found: [faces],
    ...surfaceGaps(mesh, faces, normal, middle, area) };
}

// How far the triangles' corners lie from a plane: the root mean square, weighted by area, and the
// greatest distance.
function surfaceGaps(mesh, faces, normal, middle, area) {
  let [squares, worst] = [0, 0];
  for (const face of faces) {
    const corners = cornersOf(mesh, face);
    const gaps = corners.map((corner) => dot(normal, minus(corner, middle)));
    squares += (length(acrossOf(corners)) / 6) * dot(gaps, gaps);
    worst = Math.max(worst, ...gaps.map(Math.abs));
  }
  return { rms: Math.sqrt(squares / area), worst };
}

function acrossOf([a, b, c]) {
  return cross(minus(b, a), minus(c, a));
}

const FLAT_ROUNDS = 8;
const FIRST_REACH = 0.03; // of the longest side: the first plane is fitted this far around a click
const WIDEST_BAND_MM = 0.15; // how far from flat a flat place may be; the check uses the same
const WIDEST_BAND = 0.01; // of the longest side
const NARROWEST_BAND = 1e-4; // of the longest side
const LEAST_FACING = 0.5; // cosine: noise tilts small triangles far

// The flat place about a click {at, face}: the connected triangles within three times their rms
// distance of their common plane.
function flatAround(mesh, { at, face }, longest) {
  const widest = Math.min(WIDEST_BAND_MM, WIDEST_BAND * longest);
  const near = (corners) => length(minus(meanOf(corners), at)) < FIRST_REACH * longest;
  let fit = surfaceFit(mesh, grown(mesh, face, near));
  let [band, count] = [widest, 0];
  for (let round = 0; round < FLAT_ROUNDS; round += 1) {
    const { normal, offset } = fit;
    const on = (corners) => {
      const across = acrossOf(corners);
      return corners.every((v) => Math.abs(dot(normal, v) - offset) <= band) &&
        dot(across, normal) > LEAST_FACING * length(across);
    };
    const faces = grown(mesh, face, on);
    if (faces.length === count) break;
    count = faces.length;
    fit = surfaceFit(mesh, faces);
    band = Math.min(Math.max(3 * fit.rms, NARROWEST_BAND * longest), widest);
  }
  return fit;
}

// Where `height(x, y, z)` is zero on the surface: the ends of straight segments, six numbers a
// segment.
function skinLine(mesh, height) {
  const { points, corners } = mesh;
  const values = new Float64Array(points.length / 3);
  for (let p = 0; p < values.length; p += 1) {
    values[p] = height(points[3 * p], points[3 * p + 1], points[3 * p + 2]);
  }
  const ends = [];
  for (let f = 0; f < corners.length; f += 3) {
    const above = values[corners[f]] > 0;
    if (above === values[corners[f + 1]] > 0 && above === values[corners[f + 2]] > 0) continue;
    for (let k = 0; k < 3; k += 1) {
      const [a, b] = [corners[f + k], corners[f + ((k + 1) % 3)]];
      if (values[a] > 0 === values[b] > 0) continue;
      const share = values[a] / (values[a] - values[b]);
      for (let i = 0; i < 3; i += 1) {
        ends.push(points[3 * a + i] + share * (points[3 * b + i] - points[3 * a + i]));
      }
    }
  }
  return new Float32Array(ends);
}
