// What any threshold would count, worked out once from the picture of steps: the share of the
// surface, the number of objects, and from which step on each pixel is counted. No DOM here.

/** Take a message of the server apart: {about, levels}. */
export function unpack(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const about = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  return { about, levels: new Uint8Array(buffer.slice(4 + length)) };
}

/** Places of the pixels from the highest step to `least`, and where each step begins. */
function sorted(levels, { steps, least }) {
  const starts = new Uint32Array(steps + 1);
  for (const level of levels) if (level >= least && level < steps) starts[steps - 1 - level] += 1;
  let sum = 0;
  for (let k = 0; k <= steps; k += 1) [starts[k], sum] = [sum, sum + starts[k]];
  const next = starts.slice();
  const places = new Uint32Array(sum);
  levels.forEach((level, at) => {
    if (level >= least && level < steps) places[next[steps - 1 - level]++] = at;
  });
  return { places, starts };
}

/**
 * Let the surface flood from the highest step down and keep account of its islands: pixels that
 * touch at a side or corner belong together (union by size; Tarjan, J. ACM 22, 1975).
 *
 * @param {Uint8Array} levels  width × height; from `steps` on a pixel is not inspected
 * @returns {{raw: Float64Array, counted: Float64Array, counts: Uint32Array, from: Uint8Array}}
 *   for each step the pixels beyond it, those in objects of `leastPx` pixels or more, how many such
 *   objects there are; and for each pixel the highest step that counts it (0 for none)
 */
export function flood(levels, { width, height, steps, least, leastPx }) {
  const { places, starts } = sorted(levels, { steps, least });
  const rank = new Int32Array(levels.length).fill(-1); // of a pixel, once it is under water
  const parent = new Int32Array(places.length);
  const size = new Int32Array(places.length);
  const ring = new Int32Array(places.length); // small islands, pixel by pixel in a circle
  const raw = new Float64Array(steps);
  const counted = new Float64Array(steps);
  const counts = new Uint32Array(steps);
  const from = new Uint8Array(levels.length);
  let [area, count, step] = [0, 0, 0];

  function rootOf(index) {
    let at = index;
    while (parent[at] !== at) {
      parent[at] = parent[parent[at]];
      at = parent[at];
    }
    return at;
  }

  function surface(root) {
    let at = root;
    do {
      from[places[at]] = step;
      at = ring[at];
    } while (at !== root);
  }

  function join(a, b) {
    let [large, small] = size[a] >= size[b] ? [a, b] : [b, a];
    const [wasLarge, wasSmall] = [size[large] >= leastPx, size[small] >= leastPx];
    if (wasLarge) area -= size[large];
    if (wasSmall) area -= size[small];
    count -= wasLarge + wasSmall;
    if (wasLarge && !wasSmall) surface(small);
    parent[small] = large;
    size[large] += size[small];
    [ring[large], ring[small]] = [ring[small], ring[large]];
    if (size[large] < leastPx) return large;
    if (!wasLarge && !wasSmall) surface(large);
    area += size[large];
    count += 1;
    return large;
  }

  for (step = steps - 1; step >= least; step -= 1) {
    const end = starts[steps - step];
    for (let index = starts[steps - 1 - step]; index < end; index += 1) {
      const at = places[index];
      rank[at] = index;
      parent[index] = index;
      ring[index] = index;
      size[index] = 1;
      let root = index;
      if (leastPx <= 1) {
        [area, count] = [area + 1, count + 1];
        from[at] = step;
      }
      const x = at % width;
      const y = (at - x) / width;
      for (let dy = y ? -1 : 0; dy <= (y < height - 1 ? 1 : 0); dy += 1) {
        for (let dx = x ? -1 : 0; dx <= (x < width - 1 ? 1 : 0); dx += 1) {
          const beside = rank[at + dy * width + dx];
          if (beside < 0 || beside === index) continue;
          const other = rootOf(beside);
          if (other !== root) root = join(root, other);
        }
      }
    }
    raw[step] = end;
    counted[step] = area;
    counts[step] = count;
  }
  return { raw, counted, counts, from };
}

/** What lies between two steps that were looked up, on a straight line between them. */
function between(rows, step, place) {
  const after = rows.findIndex(([at]) => at >= step);
  if (after < 0) return rows.at(-1)[place];
  if (after === 0) return rows[0][place];
  const [low, high] = [rows[after - 1], rows[after]];
  const t = (step - low[0]) / (high[0] - low[0]);
  return low[place] * (1 - t) + high[place] * t;
}

/**
 * The void fraction, 0–1, and the number of voids at each step.
 *
 * The share beyond a step comes from the full size; what part of it lies in objects large enough to
 * count is told by the picture itself, or by what the server looked up if the picture is smaller.
 */
export function figuresOf({ shares, is_reduced: isReduced, looked_up: lookedUp }, flooded) {
  const { raw, counted, counts } = flooded;
  return {
    share: shares.map((share, step) => share * (isReduced ? between(lookedUp, step, 1)
      : raw[step] ? counted[step] / raw[step] : 1)),
    count: shares.map((_, step) => (isReduced ? Math.round(between(lookedUp, step, 2)) : counts[step])),
  };
}

/** All of it, from the message of the server. */
export function prepared(buffer) {
  const { about, levels } = unpack(buffer);
  const flooded = flood(levels, { width: about.width_px, height: about.height_px,
    steps: about.steps, least: Math.round(about.least * about.steps), leastPx: about.least_px });
  return { about, figures: figuresOf(about, flooded), from: flooded.from };
}
