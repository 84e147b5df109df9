/* The words beside a marked body: its level, always, and what was measured where it is. Pure:
   places on the screen in, texts out. */

import { distance, half } from "./geometry.js";
import { inWords } from "./values.js";

const APART = 14; /* px from the marks to the words */
const LINE = 17; /* px from line to line */
const EDGE = 7; /* px that words keep from the edge of the picture */
const LETTER = 8; /* px, the width of a letter at most */
const ROOM = 13; /* letters between both sides, for a value with its ± */
const NARROW = 520; /* px of the picture, below which only heights stand on it */

/* Which pair of marks carries which values beside it; the first pair also carries the level. */
const BESIDE = {
  lateral: [
    [["upper_anterior", "lower_anterior"], ["anterior_height_mm"]],
    [["upper_posterior", "lower_posterior"], ["posterior_height_mm", "wedge_percent", "vertebral_angle_deg"]],
  ],
  frontal: [
    [["upper_right", "lower_right"], ["right_height_mm"]],
    [["upper_left", "lower_left"], ["left_height_mm", "frontal_angle_deg"]],
  ],
  axial: [
    [["body_right", "pedicle_right_lateral"], ["pedicle_right_width_mm"]],
    [["body_left", "pedicle_left_lateral"], ["pedicle_left_width_mm", "retropulsion_mm", "canal_encroachment_percent"]],
  ],
  needles: [
    [["upper_anterior", "lower_anterior"], []],
    [["upper_posterior", "lower_posterior"], []],
  ],
};
const INSIDE = { lateral: [["upper_middle", "lower_middle"], "middle_height_mm"] };
/* On its own beside an axial slice a number does not say what it is. */
const NAMED = {
  pedicle_right_width_mm: "pedicle ", pedicle_left_width_mm: "pedicle ", retropulsion_mm: "fragment ",
  canal_encroachment_percent: "canal ", wedge_percent: "wedge ", vertebral_angle_deg: "angle ", frontal_angle_deg: "angle ",
};

function between(at, [first, second]) {
  const [one, other] = [at(first), at(second)];
  return one && other ? half(one, other) : one || other;
}

function centre(places) {
  return [0, 1].map((axis) => places.reduce((sum, place) => sum + place[axis], 0) / places.length);
}

/* The texts of one level as {words, x, y, anchor, level}. `at(name)` is a place on the screen
   or null; `value(key)` a value in words, "" for none; without `value` the level alone. `size` is
   that of the stage. */
export function labelsOf(view, level, names, at, value, size) {
  const places = names.map(at).filter(Boolean);
  if (!places.length) {
    return [];
  }
  const pairs = BESIDE[view] || [];
  const texts = pairs.flatMap(([pair, keys], place) =>
    column(between(at, pair), centre(places), [...(place ? [] : [level]), ...named(keys, value)], level));
  if (!texts.some((text) => text.level)) {
    texts.push({ words: level, level: true, anchor: "start", x: places[0][0] + APART, y: places[0][1] - APART });
  }
  return [...texts, ...inner(view, at, value)].map((text) => inside(text, places, size)).filter(Boolean);
}

function named(keys, value) {
  return keys.map((key) => [key, value ? value(key) : ""]).filter(([, words]) => words)
    .map(([key, words]) => `${NAMED[key] || ""}${words}`);
}

/* Lines under each other on the outer side of a place. */
function column(spot, middle, lines, level) {
  if (!spot) {
    return [];
  }
  const outward = spot[0] < middle[0] ? -1 : 1;
  return lines.map((words, line) => ({
    words, level: words === level, anchor: outward < 0 ? "end" : "start",
    x: spot[0] + outward * APART, y: spot[1] + 5 + LINE * (line - (lines.length - 1) / 2),
  }));
}

/* What stands inside the body: short where there is little room. */
function inner(view, at, value) {
  const [pair, key] = INSIDE[view] || [];
  const spot = pair && value && between(at, pair);
  if (!spot || !value(key)) {
    return [];
  }
  const [front, back] = BESIDE[view].map(([ends]) => between(at, ends));
  const roomy = front && back && distance(front, back) > ROOM * LETTER * 2;
  const words = roomy ? value(key) : value(key).split(" ")[0];
  return [{ words, anchor: "start", x: spot[0] + 6, y: spot[1] + 5 }];
}

/* A value of `measured` as words, for the overlay; on a narrow picture heights without their
   ±, which stands in the table beside it. */
export function finder(rows, level, width) {
  return (key) => {
    const row = rows.find((one) => one.key === key);
    if (!row || (width < NARROW && !key.endsWith("_height_mm"))) {
      return "";
    }
    const words = inWords(row.at[level], row.unit);
    return width < NARROW ? words.replace(/ ±\S+/, "") : words;
  };
}

/* A value is told where it is seen; the level of a body that is seen in part stays inside the
   picture, wherever its edge lies. null for what is not shown. */
function inside(text, places, { width, height }) {
  const { x, y } = text;
  if (!text.level) {
    return x > 0 && x < width && y > 0 && y < height ? kept(text, width, height) : null;
  }
  const within = (axis, size) => {
    const along = places.map((place) => place[axis]);
    return Math.max(...along) > 0 && Math.min(...along) < size;
  };
  return within(0, width) && within(1, height) ? kept(text, width, height) : null;
}

function kept(text, width, height) {
  const wide = text.words.length * LETTER;
  const left = text.x - { start: 0, middle: wide / 2, end: wide }[text.anchor];
  const y = Math.max(Math.min(text.y, height - EDGE), 3 * EDGE);
  if (left < EDGE) {
    return { ...text, y, anchor: "start", x: EDGE };
  }
  return left + wide > width - EDGE ? { ...text, y, anchor: "end", x: width - EDGE } : { ...text, y };
}
