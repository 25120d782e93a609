// Numbers in words, as the records write them: three significant figures, the unit held to the number.
import { boundsOf, extents, outlineArea, pathLength } from "./geometry.js";

const NBSP = "\u00a0";

/** So many significant digits, no exponent, no trailing noughts: 0.42, 12.4, 1310. */
export function figure(value, digits = 3) {
  if (value === 0 || !Number.isFinite(value)) return String(value);
  const places = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
  if (places < 0) return String(Math.round(value * 10 ** places) / 10 ** places);
  const text = value.toFixed(Math.min(places, 20));
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** A number as people type it, with a decimal point or a decimal comma; null if it is none. */
export function readNumber(text) {
  const plain = text.replace(/[\s\u00a0]/g, "");
  return /^\d+([.,]\d*)?$/.test(plain) ? Number(plain.replace(",", ".")) : null;
}

function lengths(values, pxPerMm) {
  const unit = pxPerMm ? "mm" : "px";
  const digits = values.map((value) => figure(pxPerMm ? value / pxPerMm : Math.round(value)));
  return `${digits.join(` ×${NBSP}`)}${NBSP}${unit}`;
}

/**
 * How big a mark is while it is being drawn. Pixels of the photo without a scale.
 *
 * @param {"point"|"line"|"outline"|"box"} shape
 * @param {[number, number][]} points  in pixels of the photo
 * @param {?number} pxPerMm
 */
export function sizeWords(shape, points, pxPerMm) {
  if (points.length < 2) return "";
  if (shape === "line") return `${lengths([pathLength(points)], pxPerMm)} long`;
  if (shape === "box") {
    const { width, height } = boundsOf(points);
    return lengths([width, height], pxPerMm);
  }
  const { longest, across } = extents(points);
  return lengths([longest, across], pxPerMm);
}

/** Area inside an outline: mm² below one square centimetre, cm² above, px² without a scale. */
export function areaWords(points, pxPerMm) {
  const area = outlineArea(points);
  if (!pxPerMm) return `${figure(area)}${NBSP}px²`;
  const mm2 = area / pxPerMm ** 2;
  return mm2 < 100 ? `${figure(mm2)}${NBSP}mm²` : `${figure(mm2 / 100)}${NBSP}cm²`;
}

/** `1 mark`, `3 marks`. */
export const plural = (count, one, many = `${one}s`) => `${count}${NBSP}${count === 1 ? one : many}`;
