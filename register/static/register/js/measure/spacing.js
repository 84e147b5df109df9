/* What a pixel measures, and what is left without that. Pure. */

import { distance } from "./geometry.js";

/* Written as everywhere in the register: figures with a point, nothing else. */
const PLAIN = /^(0|[1-9]\d*)(\.\d+)?$/;

export function readMm(text) {
  const typed = String(text ?? "").trim();
  return PLAIN.test(typed) && Number(typed) > 0 ? Number(typed) : null;
}

/* How much taller than wide a pixel is. */
export function aspectOf(frame) {
  return frame.row_mm > 0 && frame.column_mm > 0 ? frame.row_mm / frame.column_mm : frame.aspect || 1;
}

/* The spacing that a drawn length of known mm gives; null while it is not complete. */
export function fromKnown(known, aspect) {
  const mm = readMm(known?.mm);
  if (!mm || !known.start || !known.end) {
    return null;
  }
  const upright = ([x, y]) => [x, y * aspect];
  const drawn = distance(upright(known.start), upright(known.end));
  return drawn > 0
    ? { column_mm: mm / drawn, row_mm: (mm / drawn) * aspect, basis: "known_length", known_mm: mm }
    : null;
}

/* Calibrated spacing of the file goes first, then what the reader drew, then the detector's
   spacing corrected by the magnification; else the shape of the pixels alone. */
export function spacingOf(frame, marks) {
  const aspect = aspectOf(frame);
  const told = { column_mm: frame.column_mm, row_mm: frame.row_mm, basis: frame.basis };
  if (frame.basis === "calibrated") {
    return told;
  }
  const drawn = fromKnown(marks.known, aspect);
  if (drawn) {
    return drawn;
  }
  return frame.basis === "none" || !(frame.column_mm > 0)
    ? { column_mm: 1, row_mm: aspect, basis: "none" }
    : told;
}

export const BASIS = {
  calibrated: "Millimetres from the calibrated pixel spacing of the file.",
  magnification: "Millimetres from the detector's spacing, corrected by the recorded magnification.",
  known_length: "Millimetres from the known length that is drawn on the picture.",
  none: "Not calibrated: ratios and angles only. Draw a known length to have millimetres.",
};
