// Planes, bands, balls and axes through places, by least squares. Pure functions of plain arrays;
// lengths in mm. What can't be fitted throws a FitFault, whose message is a sentence to show.
class FitFault extends Error {}

const LEAST_SPREAD = 0.02; // across the places, of their spread along: less is as good as a line

function minus(a, b) {
  return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
}
function length(v) {
  return Math.hypot(v[0], v[1], v[2]);
}
function unit(v) {
  const long = length(v);
  return [v[0] / long, v[1] / long, v[2] / long];
}
function meanOf(points) {
  const sum = [0, 1, 2].map((k) => points.reduce((total, p) => total + p[k], 0));
  return sum.map((total) => total / points.length);
}
// Sum of x xᵀ over vectors, as [xx, xy, xz, yy, yz, zz].
function secondMoments(vectors) {
  const sum = [0, 0, 0, 0, 0, 0];
  for (const [x, y, z] of vectors) {
    sum[0] += x * x; sum[1] += x * y; sum[2] += x * z;
    sum[3] += y * y; sum[4] += y * z; sum[5] += z * z;
  }
  return sum;
}

// Eigenvalues, least first, with their unit vectors, of a symmetric matrix given as above: turned
// to a diagonal plane by plane (Jacobi 1846).
function eigen([xx, xy, xz, yy, yz, zz]) {
  const a = [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]];
  const v = [[1, 0, 0], [0, 1, 0], [0, 0, 1]];
  for (let sweep = 0; sweep < 40; sweep += 1) {
    for (const [p, q] of [[0, 1], [0, 2], [1, 2]]) {
      if (a[p][q] === 0) continue;
      const half = (a[q][q] - a[p][p]) / (2 * a[p][q]);
      const t = (half < 0 ? -1 : 1) / (Math.abs(half) + Math.hypot(half, 1));
      const c = 1 / Math.hypot(t, 1);
      const s = t * c;
      for (const m of [a, v]) {
        for (const row of m) [row[p], row[q]] = [c * row[p] - s * row[q], s * row[p] + c * row[q]];
      }
      for (let k = 0; k < 3; k += 1) {
        [a[p][k], a[q][k]] = [c * a[p][k] - s * a[q][k], s * a[p][k] + c * a[q][k]];
      }
    }
  }
  return [0, 1, 2].sort((i, j) => a[i][i] - a[j][j])
    .map((k) => ({ value: Math.max(0, a[k][k]), vector: v.map((row) => row[k]) }));
}

// The direction in which places with these second moments about their middle spread least.
function flatNormal(moments) {
  const [least, middle, most] = eigen(moments);
  if (Math.sqrt(middle.value) <= LEAST_SPREAD * Math.sqrt(most.value)) {
    throw new FitFault("The points lie on one line: add a point beside the line.");
  }
  return least.vector;
}
function needing(points, count, what) {
  if (points.length < count) {
    const more = count - points.length;
    throw new FitFault(`Click ${more} more point${more === 1 ? "" : "s"} for ${what}.`);
  }
}
function residuals(gaps) {
  const sizes = gaps.map(Math.abs);
  const squares = sizes.reduce((total, gap) => total + gap * gap, 0);
  return { rms: Math.sqrt(squares / gaps.length), worst: Math.max(...sizes) };
}

// v or −v, chosen so that further points rarely turn it round.
function upright(v) {
  const most = v.reduce((best, x) => (Math.abs(x) > Math.abs(best) ? x : best), 0);
  return most < 0 ? v.map((x) => -x) : v;
}

// {kind, normal, offset, middle, rms, worst, spare}; the plane is normal·x = offset.
function planeFit(points) {
  needing(points, 3, "a plane");
  const middle = meanOf(points);
  const normal = upright(flatNormal(secondMoments(points.map((p) => minus(p, middle)))));
  const offset = dot(normal, middle);
  const gaps = points.map((p) => dot(normal, minus(p, middle)));
  return { kind: "plane", normal, offset, middle, spare: points.length - 3, ...residuals(gaps) };
}

// Two parallel planes, one through each set of places; the normal runs from the first to the
// second, and `offsets` are along it.
function bandFit(near, far) {
  needing(near, 1, "one face of the band");
  needing(far, 1, "the other face of the band");
  const middles = [near, far].map(meanOf);
  const own = [near, far].flatMap((set, side) => set.map((p) => minus(p, middles[side])));
  needing(own, 4, "a band");
  const normal = flatNormal(secondMoments(own));
  const way = dot(normal, minus(middles[1], middles[0])) < 0 ? normal.map((v) => -v) : normal;
  const gaps = own.map((v) => dot(way, v));
  const offsets = middles.map((middle) => dot(way, middle));
  const spare = own.length - 4;
  const thick = offsets[1] - offsets[0];
  if (thick < 1e-3) throw new FitFault("Both faces of the band lie in the same plane.");
  return { kind: "band", normal: way, offsets, middles, thick, spare, ...residuals(gaps) };
}

// A ball's surface: a start from the equation |x|² = 2c·x + k, linear in c and k, then
// Gauss-Newton steps on the distances themselves.
function ballFit(points) {
  needing(points, 4, "a ball");
  const middle = meanOf(points);
  const own = points.map((p) => minus(p, middle));
  const rows = own.map((p) => [2 * p[0], 2 * p[1], 2 * p[2], 1]);
  const start = leastSquares(rows, own.map((p) => dot(p, p)));
  let centre = start.slice(0, 3);
  let radius = Math.sqrt(Math.max(0, start[3] + dot(centre, centre)));
  for (let round = 0; round < 60; round += 1) {
    const outward = own.map((p) => unit(minus(p, centre)));
    const gaps = own.map((p) => length(minus(p, centre)) - radius);
    const step = leastSquares(outward.map((u) => [...u, 1]), gaps);
    centre = centre.map((v, k) => v + step[k]);
    radius += step[3];
    if (Math.hypot(...step) < 1e-12 * radius) break;
  }
  const gaps = own.map((p) => length(minus(p, centre)) - radius);
  const whole = centre.map((v, k) => v + middle[k]);
  return { kind: "ball", centre: whole, radius, middle, spare: points.length - 4,
    ...residuals(gaps) };
}

// x with rows·x nearest to `wanted`, by the normal equations; the rows are few and well scaled.
function leastSquares(rows, wanted) {
  const n = rows[0].length;
  const a = Array.from({ length: n }, (_, i) => [
    ...Array.from({ length: n }, (_, j) => rows.reduce((sum, row) => sum + row[i] * row[j], 0)),
    rows.reduce((sum, row, k) => sum + row[i] * wanted[k], 0),
  ]);
  const scale = Math.max(...a.map((row, i) => Math.abs(row[i])));
  for (let i = 0; i < n; i += 1) {
    let best = i;
    for (let k = i + 1; k < n; k += 1) if (Math.abs(a[k][i]) > Math.abs(a[best][i])) best = k;
    [a[i], a[best]] = [a[best], a[i]];
    if (Math.abs(a[i][i]) < 1e-12 * scale) throw new FitFault("No ball fits: spread the points.");
    for (let k = 0; k < n; k += 1) {
      if (k === i) continue;
      const share = a[k][i] / a[i][i];
      for (let j = i; j <= n; j += 1) a[k][j] -= share * a[i][j];
    }
  }
  return a.map((row, i) => row[n] / row[i]);
}

// A prism's axis from the normals of its faces: the direction that two faces have in common, or the
// one at the same angle to three or more. Where a prism tapers, its normals lie on a cone.
function prismAxis(normals) {
  if (normals.length > 2) return planeFit(normals).normal;
  const way = cross(...normals);
  if (length(way) < 0.1) { // sine of 6 degrees: what is left is mostly the faces' own error
    throw new FitFault("The two faces are parallel: click faces that meet at an angle.");
  }
  return unit(way);
}
