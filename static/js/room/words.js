// Numbers in words, as the records write them: three significant figures, the unit held to the number.
import { boxCorners, distance, longestExtent, outlineArea, pathLength } from "./geometry.js";

const NBSP = "\u00a0";

/** So many significant digits, no exponent, no trailing noughts: 0.42, 12.4, 1310; 20 000 stands apart. */
export function figure(value, digits = 3) {
  if (value === 0 || !Number.isFinite(value)) return String(value);
  const places = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
  if (places < 0) {
    const whole = String(Math.round(value * 10 ** places) / 10 ** places);
    return Math.abs(value) < 9999.5 ? whole : whole.replace(/\B(?=(\d{3})+$)/g, "\u202f");
  }
  const text = value.toFixed(Math.min(places, 20));
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** A number as people type it, with a decimal point or a decimal comma; null if it is none. */
export function readNumber(text) {
  const plain = text.replace(/[\s\u00a0]/g, "");
  return /^\d+([.,]\d*)?$/.test(plain) ? Number(plain.replace(",", ".")) : null;
}

/** Points of the photo on the surface, in mm: by the card's plane if it is known, else by the scale. */
export function toMm(points, { px_per_mm: pxPerMm, homography }) {
  if (!homography) return points.map(([x, y]) => [x / pxPerMm, y / pxPerMm]);
  return points.map(([x, y]) => {
    const [u, v, w] = homography.map(([a, b, c]) => a * x + b * y + c);
    return [u / w, v / w];
  });
}

/**
 * How big a mark is while it is being drawn. Pixels of the photo without a scale.
 *
 * @param {"point"|"line"|"outline"|"box"} shape
 * @param {[number, number][]} points  in pixels of the photo
 * @param {{px_per_mm: ?number, homography: ?number[][]}} scale  homography from px to mm, 3 × 3
 */
export function sizeWords(shape, points, scale) {
  if (points.length < 2) return "";
  const unit = scale.px_per_mm ? "mm" : "px";
  const corners = shape === "box" ? boxCorners(points) : points;
  const on = scale.px_per_mm ? toMm(corners, scale) : corners;
  const written = (value) => figure(scale.px_per_mm ? value : Math.round(value));
  if (shape === "line") return `${written(pathLength(on))}${NBSP}${unit} long`;
  if (shape === "box") {
    return `${written(distance(on[0], on[1]))} ×${NBSP}${written(distance(on[1], on[2]))}${NBSP}${unit}`;
  }
  return `${written(longestExtent(on))}${NBSP}${unit} across`;
}

/** Area inside an outline: mm² below ten square centimetres, cm² above, px² without a scale. */
export function areaWords(points, scale) {
  if (!scale.px_per_mm) return `${figure(outlineArea(points))}${NBSP}px²`;
  const mm2 = outlineArea(toMm(points, scale));
  return mm2 < 1000 ? `${figure(mm2)}${NBSP}mm²` : `${figure(mm2 / 100)}${NBSP}cm²`;
}

/** `1 mark`, `3 marks`. */
export const plural = (count, one, many = `${one}s`) => `${count}${NBSP}${count === 1 ? one : many}`;

/** `25 Nov 2026, 09:10` on this device's clock; what is no date stays as it is. */
export function momentWords(iso) {
  const moment = new Date(iso);
  if (Number.isNaN(moment.valueOf())) return iso;
  return moment.toLocaleString("en-GB", { day: "numeric", month: "short", year: "numeric",
    hour: "2-digit", minute: "2-digit" });
}
