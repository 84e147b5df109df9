/* What the marks say now, and how sure it is. Pure. A value is {value, error}; null where a
   mark is missing, a formula is not defined, or a length has no scale. */

import { onPlane } from "./geometry.js";
import { rowsOf, spansOf } from "./quantities.js";

/* Half of the interval that holds 95 % of a normal distribution, in standard deviations. */
const WIDTH = 1.96;
const STEP_MM = 1e-4;

/* How much a number changes with its marks: the length of its gradient, per mm. */
function slope(formula, points) {
  let squares = 0;
  for (let place = 0; place < points.length; place += 1) {
    for (const axis of [0, 1]) {
      const moved = (step) => formula(...points.map((point, one) => {
        const copy = [...point];
        copy[axis] += one === place ? step : 0;
        return copy;
      }));
      const [ahead, behind] = [moved(STEP_MM), moved(-STEP_MM)];
      if (ahead === null || behind === null) {
        return 0;
      }
      squares += ((ahead - behind) / (2 * STEP_MM)) ** 2;
    }
  }
  return Math.sqrt(squares);
}

/* One number with its ±, from the error of a mark: a standard deviation in mm in each
   direction. Without scale there is no ±, because nobody knows how many pixels that is; a
   known length adds the error of its own two marks. */
export function measure({ formula, unit }, points, spacing, sdMm) {
  const scaled = spacing.basis !== "none";
  if (points.some((point) => !point) || (unit === "mm" && !scaled)) {
    return null;
  }
  const value = formula(...points);
  if (value === null) {
    return null;
  }
  const steep = scaled && sdMm > 0 ? slope(formula, points) : 0;
  if (!steep) {
    return { value, error: null };
  }
  const ofScale = spacing.known_mm && unit === "mm" ? (Math.SQRT2 * sdMm * value) / spacing.known_mm : 0;
  return { value, error: WIDTH * Math.hypot(steep * sdMm, ofScale) };
}

/* Everything that can be computed now: {rows: [{key, words, unit, at: {level: value}}],
   spans: [{key, words, unit, value}]}. */
export function measured({ view, levels, level, errorMm }, marks, spacing) {
  const placed = onPlane(marks, spacing);
  const corner = ([side, at], name) => placed[at]?.[`${side}_${name}`];
  const ends = (plate) => [corner(plate, "anterior"), corner(plate, "posterior")];
  return {
    rows: rowsOf(view).map((row) => ({
      ...row,
      at: Object.fromEntries(levels.map((one) =>
        [one, measure(row, row.names.map((name) => placed[one]?.[name]), spacing, errorMm)])),
    })),
    spans: spansOf(view, level).map((span) => ({
      ...span, value: measure(span, [...ends(span.head), ...ends(span.tail)], spacing, errorMm),
    })),
  };
}

/* "16.4 ±1.6 mm"; one decimal for everything, as on the record. */
export function inWords(found, unit) {
  if (!found) {
    return "";
  }
  const value = (Math.round(found.value * 10) / 10).toFixed(1).replace("-", "−");
  const error = found.error === null ? "" : ` ±${found.error.toFixed(1)}`;
  const gap = unit === "°" || !unit ? "" : " ";
  return `${value}${error}${gap}${unit}`;
}
