// Outlines that cross themselves: found as the records find them, so that it is said before sending.
import { distance } from "./geometry.js";

const SMALL_LOOP = 0.05; // of the whole length; a finger that overshoots is no crossing
const TAIL = 0.25; // of the whole length; what hangs over where a loop closes

/**
 * All crossings of the edges of a closed outline: edges `i` and `j`, the point `at`, and the share of
 * the whole length on the way from one to the other and on the way back. A touch is no crossing.
 */
function crossings(points) {
  const count = points.length;
  const next = (i) => points[(i + 1) % count];
  const lengths = points.map((point, i) => distance(point, next(i)));
  const whole = lengths.reduce((sum, length) => sum + length, 0);
  const along = lengths.map((_, i) => lengths.slice(0, i).reduce((sum, length) => sum + length, 0));
  const found = [];
  for (let i = 0; i < count - 2; i += 1) {
    for (let j = i + 2; j < (i === 0 ? count - 1 : count); j += 1) {
      const where = crossed(points[i], next(i), points[j], next(j));
      if (!where) continue;
      const inside = (along[j] + where.second * lengths[j] - along[i] - where.first * lengths[i]) / whole;
      found.push({ i, j, at: where.at, inside, outside: 1 - inside });
    }
  }
  return found;
}

/** Where two stretches cross: the point, and how far along each; null if they do not. */
function crossed(a, b, c, d) {
  const side = ([px, py], [qx, qy], [rx, ry]) => (qx - px) * (ry - py) - (qy - py) * (rx - px);
  const [c1, d1, a1, b1] = [side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)];
  if (c1 * d1 >= 0 || a1 * b1 >= 0) return null;
  const first = a1 / (a1 - b1);
  return { first, second: c1 / (c1 - d1), at: [a[0] + first * (b[0] - a[0]), a[1] + first * (b[1] - a[1])] };
}

/** Whether a closed outline crosses itself, other than by a slip of the hand. */
export function crossesItself(points) {
  return crossings(points).some(({ inside, outside }) => Math.min(inside, outside) >= SMALL_LOOP);
}

/** A loop drawn with its two ends crossed, as one does: the ends that hang over are left out. */
export function withoutTails(points) {
  const loops = crossings(points).filter(({ outside }) => outside >= SMALL_LOOP && outside <= TAIL);
  if (!loops.length || !crossesItself(points)) return points;
  const { i, j, at } = loops.reduce((best, loop) => (loop.inside < best.inside ? loop : best));
  return [at, ...points.slice(i + 1, j + 1)];
}
