// Lengths, areas and outlines. Points are [x, y]; whatever unit goes in comes out. No DOM here.

export const distance = ([ax, ay], [bx, by]) => Math.hypot(bx - ax, by - ay);

export const midpoint = ([ax, ay], [bx, by]) => [(ax + bx) / 2, (ay + by) / 2];

export const moved = (points, [dx, dy]) => points.map(([x, y]) => [x + dx, y + dy]);

export function pathLength(points) {
  let sum = 0;
  for (let i = 1; i < points.length; i += 1) sum += distance(points[i - 1], points[i]);
  return sum;
}

/** Area inside a closed outline, by the shoelace sum; which way round does not matter. */
export function outlineArea(points) {
  let twice = 0;
  points.forEach(([x, y], i) => {
    const [nextX, nextY] = points[(i + 1) % points.length];
    twice += x * nextY - nextX * y;
  });
  return Math.abs(twice) / 2;
}

/** The upright rectangle round some points. */
export function boundsOf(points) {
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  const [left, right] = [Math.min(...xs), Math.max(...xs)];
  const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
  return { left, top, right, bottom, width: right - left, height: bottom - top };
}

/** The four corners of a box given by two opposite ones, clockwise on the screen. */
export function boxCorners(points) {
  const { left, top, right, bottom } = boundsOf(points);
  return [[left, top], [right, top], [right, bottom], [left, bottom]];
}

/** What a mark looks like as a path: its points, and whether it comes back to the first. */
export function pathOf(shape, points) {
  if (shape === "box" && points.length === 2) return { points: boxCorners(points), closed: true };
  return { points, closed: shape === "outline" };
}

function distanceToSegment(point, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const square = dx * dx + dy * dy;
  if (square === 0) return distance(point, a);
  const along = ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / square;
  const t = Math.min(1, Math.max(0, along));
  return distance(point, [a[0] + t * dx, a[1] + t * dy]);
}

export function distanceToPath(point, points, closed) {
  if (points.length === 1) return distance(point, points[0]);
  let least = closed ? distanceToSegment(point, points.at(-1), points[0]) : Infinity;
  for (let i = 1; i < points.length; i += 1) {
    least = Math.min(least, distanceToSegment(point, points[i - 1], points[i]));
  }
  return least;
}

/** Whether a point lies inside an outline (even-odd rule). */
export function isInside([x, y], points) {
  let inside = false;
  points.forEach(([ax, ay], i) => {
    const [bx, by] = points[(i + 1) % points.length];
    if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
  });
  return inside;
}

/**
 * Leave out every point that lies within `tolerance` of the path without it
 * (Douglas and Peucker, Cartographica 10, 1973). The ends stay.
 */
export function simplify(points, tolerance) {
  if (points.length < 3) return points.slice();
  const keep = new Set([0, points.length - 1]);
  const spans = [[0, points.length - 1]];
  while (spans.length) {
    const [from, to] = spans.pop();
    let [far, index] = [tolerance, -1];
    for (let i = from + 1; i < to; i += 1) {
      const off = distanceToSegment(points[i], points[from], points[to]);
      if (off > far) [far, index] = [off, i];
    }
    if (index < 0) continue;
    keep.add(index);
    spans.push([from, index], [index, to]);
  }
  return points.filter((_, i) => keep.has(i));
}

/** The same for an outline: cut at its first point and at the one farthest from it. */
export function simplifyOutline(points, tolerance) {
  if (points.length < 4) return points.slice();
  let far = 0;
  points.forEach((point, i) => {
    if (distance(point, points[0]) > distance(points[far], points[0])) far = i;
  });
  const there = simplify(points.slice(0, far + 1), tolerance);
  const back = simplify([...points.slice(far), points[0]], tolerance);
  return [...there, ...back.slice(1, -1)];
}

/** Convex hull, counter-clockwise (Andrew's monotone chain, 1979). */
export function hull(points) {
  const sorted = points.slice().sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  if (sorted.length < 3) return sorted;
  const turn = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (order) => {
    const chain = [];
    for (const point of order) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), point) <= 0) chain.pop();
      chain.push(point);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

/** The largest distance between any two of the points (the largest Feret diameter). */
export function longestExtent(points) {
  const corners = hull(points);
  return Math.max(0, ...corners.flatMap((a) => corners.map((b) => distance(a, b))));
}

/** The nearest point that lies on the photo. */
export function onPhoto([x, y], width, height) {
  return [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
}

/** Which mark a tap means: its line within reach, else the smallest one tapped inside; or null. */
export function markAt(point, marks, reach) {
  let [best, least] = [null, reach];
  for (const mark of marks) {
    const { points, closed } = pathOf(mark.shape, mark.points);
    const off = distanceToPath(point, points, closed);
    if (off <= least) [best, least] = [mark, off];
  }
  if (best) return best;
  let smallest = Infinity;
  for (const mark of marks) {
    const { points, closed } = pathOf(mark.shape, mark.points);
    const area = closed && isInside(point, points) ? outlineArea(points) : Infinity;
    if (area < smallest) [best, smallest] = [mark, area];
  }
  return best;
}
