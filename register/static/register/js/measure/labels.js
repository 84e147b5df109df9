/* The words beside a marked body: its level, always, and what was measured where it is. Pure:
   places on the screen in, texts out. */

import { half } from "./geometry.js";
import { inWords } from "./values.js";

const APART = 14; /* px from the marks to the words */
const LINE = 17; /* px from line to line */
const LETTER = 8; /* px, the width of a letter at most */

/* Which pair of marks carries which value; the first pair also carries the level. */
const BESIDE = {
  lateral: [
    ["upper_anterior", "lower_anterior", "anterior_height_mm"],
    ["upper_posterior", "lower_posterior", "posterior_height_mm"],
  ],
  frontal: [["upper_right", "lower_right", "right_height_mm"], ["upper_left", "lower_left", "left_height_mm"]],
  axial: [["body_right", "pedicle_right_lateral", "pedicle_right_width_mm"], ["body_left", "pedicle_left_lateral", "pedicle_left_width_mm"]],
};
const INSIDE = { lateral: ["upper_middle", "lower_middle", "middle_height_mm"], axial: ["fragment", "fragment", "retropulsion_mm"] };
const BELOW = { lateral: ["wedge_percent", "vertebral_angle_deg"], axial: ["canal_encroachment_percent"] };

function between(at, first, second) {
  const [one, other] = [at(first), at(second)];
  return one && other ? half(one, other) : one || other;
}

/* The texts of one level as {words, x, y, anchor, level}. `at(name)` is a place on the screen
   or null; `found(key)` a value and its unit; without `found` the level alone is told. */
export function labelsOf(view, level, names, at, found) {
  const places = names.map(at).filter(Boolean);
  if (!places.length) {
    return [];
  }
  const middle = [0, 1].map((axis) => places.reduce((sum, place) => sum + place[axis], 0) / places.length);
  const texts = [];
  (BESIDE[view] || []).forEach(([first, second, key], place) => {
    const spot = between(at, first, second);
    if (!spot) {
      return;
    }
    const lines = [...(place === 0 ? [level] : []), ...(found?.(key) ? [found(key)] : [])];
    const outward = spot[0] < middle[0] ? -1 : 1;
    lines.forEach((words, line) => texts.push({
      words, level: words === level, anchor: outward < 0 ? "end" : "start",
      x: spot[0] + outward * APART, y: spot[1] + 5 + LINE * (line - (lines.length - 1) / 2),
    }));
  });
  if (!texts.some((text) => text.level)) {
    texts.push({ words: level, level: true, anchor: "start", x: places[0][0] + APART, y: places[0][1] - APART });
  }
  return found ? [...texts, ...values(view, places, middle, at, found)] : texts;
}

function values(view, places, middle, at, found) {
  const texts = [];
  const [first, second, key] = INSIDE[view] || [];
  const spot = first && between(at, first, second);
  if (spot && found(key)) {
    texts.push({ words: found(key), anchor: "start", x: spot[0] + 8, y: spot[1] + 5 });
  }
  const below = (BELOW[view] || []).map(found).filter(Boolean);
  if (below.length) {
    const lowest = Math.max(...places.map((place) => place[1]));
    texts.push({ words: below.join(", "), anchor: "middle", x: middle[0], y: lowest + APART + 10 });
  }
  return texts;
}

/* A value of `measured` as words, for the overlay. */
export function finder(rows, level) {
  return (key) => {
    const row = rows.find((one) => one.key === key);
    return row ? inWords(row.at[level], row.unit) : "";
  };
}

/* A text stays inside the picture, wherever its body lies. */
export function inside(text, width, height) {
  const wide = text.words.length * LETTER;
  const before = { start: 0, middle: wide / 2, end: wide }[text.anchor];
  const keep = (value, low, high) => Math.max(Math.min(value, high), low);
  return {
    ...text,
    x: keep(text.x, 6 + before, width - 6 - (wide - before)),
    y: keep(text.y, 18, height - 8),
  };
}
