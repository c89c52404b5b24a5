// What is to be known of a polygon whose corners are [x, y].

// crossing is the first pair of edges that cross or touch without following one another, or null.
function crossing(corners) {
  const n = corners.length;
  const side = (a, b, c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const apart = (a, b, c, d, i) => Math.max(a[i], b[i]) < Math.min(c[i], d[i]) || Math.max(c[i], d[i]) < Math.min(a[i], b[i]);
  for (let i = 0; i < n; i++) {
    for (let j = i + 2; j < n; j++) {
      if (i === 0 && j === n - 1) continue;
      const [a, b, c, d] = [corners[i], corners[i + 1], corners[j], corners[(j + 1) % n]];
      if (apart(a, b, c, d, 0) || apart(a, b, c, d, 1)) continue;
      if (side(a, b, c) * side(a, b, d) <= 0 && side(c, d, a) * side(c, d, b) <= 0) return [i, j];
    }
  }
  return null;
}

// polygonArea is the shoelace sum, without a sign.
function polygonArea(corners) {
  let twice = 0;
  corners.forEach((a, i) => {
    const b = corners[(i + 1) % corners.length];
    twice += a[0] * b[1] - b[0] * a[1];
  });
  return Math.abs(twice) / 2;
}

function inside(corners, x, y) {
  let within = false;
  corners.forEach((a, i) => {
    const b = corners[(i + 1) % corners.length];
    if ((a[1] > y) !== (b[1] > y) && x < a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])) within = !within;
  });
  return within;
}

// toEdge is how far a point is from the edge between a and b.
function toEdge(p, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length = dx * dx + dy * dy;
  const t = length === 0 ? 0 : Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length));
  return Math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
}

// polygonsApart is the least distance between two polygons, 0 where they overlap.
function polygonsApart(a, b) {
  if (inside(a, ...b[0]) || inside(b, ...a[0])) return 0;
  let least = Infinity;
  const edges = (corners, visit) => corners.forEach((p, i) => visit(p, corners[(i + 1) % corners.length]));
  const side = (p, q, r) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  edges(a, (p, q) => edges(b, (r, s) => {
    if (side(p, q, r) * side(p, q, s) < 0 && side(r, s, p) * side(r, s, q) < 0) least = 0;
    least = Math.min(least, toEdge(r, p, q), toEdge(s, p, q), toEdge(p, r, s), toEdge(q, r, s));
  }));
  return least;
}
