// The photo at many sizes, as one picture for the viewer: whole copies first, and above the largest
// of them the full pixels in tiles, as soon as the workshop's computer has cut them.

// One pixel of a tile is worth fetching once it is about as large as one of the screen; then what
// lies on the screen is all that is ever in memory at full size.
export const TILE_FROM = 0.8;
export const COPY_FROM = 0.3; // a whole copy is worth it earlier, for the next smaller one is far off

/** How many pictures the viewer may keep: the copies, and tiles for one screen. Sizes in pixels of the screen. */
export function picturesToKeep({ renditions, tiles }, [width, height]) {
  if (!tiles) return renditions.length + 1;
  const across = (length) => Math.ceil(length / TILE_FROM / tiles.tile_px) + 1;
  return renditions.length + across(width) * across(height);
}

/** The levels from small to large, `tile` being the side of their squares or 0 for a whole copy. */
export function levelsOf({ renditions, tiles }) {
  const copies = renditions.map(({ url, width_px: width, height_px: height }) => ({ url, width, height, tile: 0 }));
  const cut = (tiles?.levels ?? []).map(({ width_px: width, height_px: height }, i) => ({
    width, height, tile: tiles.tile_px,
    url: (column, row) => `${tiles.url}/${i}/${column}-${row}.jpg?v=${tiles.version}` }));
  return [...copies, ...cut];
}

/** A source for the viewer. It shows copies alone until `source.maxLevel` is raised. */
export function sourceOf(photo) {
  const levels = levelsOf(photo);
  const { Point, Rect, TileSource, pixelDensityRatio } = OpenSeadragon;
  const { width_px: width, height_px: height } = photo;
  return new TileSource({
    width, height, tileSize: 1, minLevel: 0, maxLevel: photo.renditions.length - 1,
    // The smallest copy is the ground that is always there.
    getClosestLevel: () => 0,
    getLevelScale: (level) => levels[level].width / width,
    getTileWidth: (level) => levels[level].tile || levels[level].width,
    getTileHeight: (level) => levels[level].tile || levels[level].height,
    getNumTiles: (level) => {
      const { width: across, height: down, tile } = levels[level];
      return tile ? new Point(Math.ceil(across / tile), Math.ceil(down / tile)) : new Point(1, 1);
    },
    getPixelRatio: (level) => {
      const { width: across, tile } = levels[level];
      const ratio = (pixelDensityRatio / across) * (tile ? COPY_FROM / TILE_FROM : 1);
      return new Point(ratio, ratio);
    },
    getTileAtPoint: (level, { x, y }) => {
      const { width: across, height: down, tile } = levels[level];
      if (!tile) return new Point(0, 0);
      const place = (at, length) => Math.min(Math.max(0, Math.floor((at * across) / tile)), Math.ceil(length / tile) - 1);
      return new Point(place(x, across), place(y, down));
    },
    getTileBounds: (level, column, row, isSource) => {
      const { width: across, height: down, tile } = levels[level];
      const [left, top] = [column * tile, row * tile];
      const [wide, high] = tile ? [Math.min(tile, across - left), Math.min(tile, down - top)] : [across, down];
      if (isSource) return new Rect(0, 0, wide, high);
      // A copy is the whole photo, though its height was rounded to pixels.
      if (!tile) return new Rect(0, 0, 1, height / width);
      const tall = height / width / down;
      return new Rect(left / across, top * tall, wide / across, high * tall);
    },
    getTileUrl: (level, column, row) => {
      const { url, tile } = levels[level];
      return tile ? url(column, row) : url;
    },
  });
}

const ASK_AGAIN_MS = 700;
const MOST_ASKS = 200;

/** Wait until the tiles are cut. True once they are, false where there will be none. */
export async function tilesReady({ url }, { pause = ASK_AGAIN_MS, ask = fetch } = {}) {
  for (let asks = 0; asks < MOST_ASKS; asks += 1) {
    const answer = await ask(url, { headers: { Accept: "application/json" } }).catch(() => null);
    const said = answer?.ok ? await answer.json().catch(() => null) : null;
    if (said?.ready) return true;
    // Refused for good; with the Wi-Fi away it is asked again.
    if (said?.failed || (answer && !answer.ok && answer.status < 500)) return false;
    await new Promise((go) => setTimeout(go, said ? pause : pause * 10));
  }
  return false;
}
