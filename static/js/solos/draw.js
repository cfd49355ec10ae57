// Small helpers of the drawing. Signs are outlines of the music font Leipzig.

import { GLYPHS } from "../../vendor/leipzig/glyphs.js";

const escapes = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };
export const safe = (text) => String(text).replace(/[&<>"]/g, (sign) => escapes[sign]);
export const round = (number) => Math.round(number * 100) / 100;

/** A sign of the font at a place; `size` is a staff space in pixels. */
export function glyph(name, x, y, size, kind = "") {
  const scale = round(size / 250 * 1000) / 1000;
  return `<path${kind ? ` class="${kind}"` : ""} transform="translate(${round(x)} ${round(y)}) scale(${scale} ${-scale})" d="${GLYPHS[name][1]}"/>`;
}
export const glyphWidth = (name, size) => (GLYPHS[name][0] * size) / 250;
