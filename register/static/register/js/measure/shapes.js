/* Which lines belong between the marks of a level. Pure: names in, stretches out. */

import { half } from "./geometry.js";

const RINGS = {
  lateral: ["upper_anterior", "upper_middle", "upper_posterior", "lower_posterior", "lower_middle", "lower_anterior"],
  frontal: ["upper_left", "upper_right", "lower_right", "lower_left"],
  needles: ["upper_anterior", "upper_posterior", "lower_posterior", "lower_anterior"],
};
const NEEDLES = [["entry_right", "target_right"], ["entry_left", "target_left"]];
const HEIGHTS = {
  lateral: [["upper_anterior", "lower_anterior"], ["upper_middle", "lower_middle"], ["upper_posterior", "lower_posterior"]],
  frontal: [["upper_left", "lower_left"], ["upper_right", "lower_right"]],
};
const AXIAL = [
  ["wall_left", "wall_right"], ["canal_left", "canal_right"],
  ["pedicle_left_medial", "pedicle_left_lateral"], ["pedicle_right_medial", "pedicle_right_lateral"],
  ["body_left", "body_right"],
];

/* Neighbours in the ring that stand, or between which only a middle point is missing. */
function ring(names, at) {
  const standing = names.filter((name) => at(name));
  return standing.map((name, place) => [name, standing[(place + 1) % standing.length]])
    .filter(([from, to]) => {
      const apart = (names.indexOf(to) - names.indexOf(from) + names.length) % names.length;
      const between = names[(names.indexOf(from) + 1) % names.length];
      return apart === 1 || (apart === 2 && between.endsWith("_middle"));
    });
}

/* The stretches of one level as {from, to, kind, guess}: `at(name)` is the mark or null,
   `proposed(name)` its proposal. Kinds: edge, height, canal. */
export function stretches(view, at, proposed) {
  const place = (name) => at(name) || proposed(name);
  const line = (kind) => ([from, to]) => ({
    kind, from: place(from), to: place(to), guess: !at(from) || !at(to),
  });
  const whole = ([from, to]) => place(from) && place(to);
  if (view === "axial") {
    return [...[...AXIAL, ...NEEDLES].filter(whole).map(line("edge")), ...behind(at)];
  }
  return [
    ...ring(RINGS[view] || [], place).map(line("edge")),
    ...(HEIGHTS[view] || []).filter(whole).map(line("height")),
    ...NEEDLES.filter(whole).map(line("edge")),
  ];
}

/* From the wall's line straight to the fragment and to the back of the canal. */
function behind(at) {
  const [left, right] = [at("wall_left"), at("wall_right")];
  if (!left || !right) {
    return [];
  }
  const middle = half(left, right);
  return ["fragment", "canal_back", "body_front"].filter(at)
    .map((name) => ({ kind: "height", from: middle, to: at(name), guess: false }));
}
