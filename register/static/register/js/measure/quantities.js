/* Which number is made of which marks, in the words of the page. Pure. The keys are those of
   the server: the fields of a measurement, and some more. */

import { behindWall, encroachment, fallDeg, fromWall, meanLength, openingDeg, sharePercent } from "./geometry.js";

const FRONT = ["upper_anterior", "lower_anterior"];
const MIDDLE = ["upper_middle", "lower_middle"];
const BACK = ["upper_posterior", "lower_posterior"];
const PLATES = ["upper_anterior", "upper_posterior", "lower_anterior", "lower_posterior"];
const BREADTHS = ["upper_left", "upper_right", "lower_left", "lower_right"];
const WALL = ["wall_left", "wall_right"];

const row = (key, words, unit, formula, names) => ({ key, words, unit, formula, names });

const ROWS = {
  lateral: [
    row("anterior_height_mm", "Anterior height", "mm", meanLength, FRONT),
    row("middle_height_mm", "Middle height", "mm", meanLength, MIDDLE),
    row("posterior_height_mm", "Posterior height", "mm", meanLength, BACK),
    row("depth_mm", "Depth", "mm", meanLength, PLATES),
    row("wedge_percent", "Wedge ratio", "%", sharePercent, [...FRONT, ...BACK]),
    row("biconcave_percent", "Biconcavity ratio", "%", sharePercent, [...MIDDLE, ...BACK]),
    row("vertebral_angle_deg", "Vertebral angle", "°", openingDeg, PLATES),
  ],
  frontal: [
    row("left_height_mm", "Left height", "mm", meanLength, ["upper_left", "lower_left"]),
    row("right_height_mm", "Right height", "mm", meanLength, ["upper_right", "lower_right"]),
    row("width_mm", "Width", "mm", meanLength, BREADTHS),
    row("frontal_angle_deg", "Angle, closing to the left", "°", openingDeg, BREADTHS),
    row("frontal_tilt_deg", "Tilt, left side down", "°", fallDeg, BREADTHS.slice(0, 2)),
  ],
  axial: [
    row("retropulsion_mm", "Fragment behind the wall", "mm", behindWall, [...WALL, "canal_back", "fragment"]),
    row("canal_encroachment_percent", "Canal taken up", "%", encroachment, [...WALL, "canal_back", "fragment"]),
    row("canal_depth_mm", "Canal depth", "mm", fromWall, [...WALL, "canal_back"]),
    row("canal_width_mm", "Canal width", "mm", meanLength, ["canal_left", "canal_right"]),
    row("pedicle_left_width_mm", "Left pedicle", "mm", meanLength, ["pedicle_left_medial", "pedicle_left_lateral"]),
    row("pedicle_right_width_mm", "Right pedicle", "mm", meanLength, ["pedicle_right_medial", "pedicle_right_lateral"]),
    row("body_depth_mm", "Body depth", "mm", fromWall, [...WALL, "body_front"]),
    row("body_width_mm", "Body width", "mm", meanLength, ["body_left", "body_right"]),
  ],
};

export function rowsOf(view) {
  return ROWS[view] || [];
}

/* --- angles over more than one body -------------------------------------------- */

const count = (letter, last) => Array.from({ length: last }, (_, place) => `${letter}${place + 1}`);
const LEVELS = [...count("C", 7), ...count("T", 12), ...count("L", 5), ...count("S", 5)];
const REGIONS = [
  [["upper", "T10"], ["lower", "L2"]],
  [["upper", "T4"], ["lower", "T12"]],
  [["upper", "L1"], ["upper", "S1"]],
];
const place = (level) => LEVELS.indexOf(level);

/* The angles that describe a level, each with its two end plates as [side, level]. */
export function spansOf(view, level) {
  if (view !== "lateral") {
    return [];
  }
  const above = LEVELS[place(level) - 1];
  const below = LEVELS[place(level) + 1];
  const region = REGIONS.find(([head, tail]) => place(head[1]) <= place(level) && place(level) <= place(tail[1]));
  return [
    ...(above ? [span("local", ["upper", above], ["lower", level])] : []),
    ...(above && below ? [span("segmental", ["upper", above], ["lower", below])] : []),
    ...(region ? [span("regional", ...region)] : []),
  ];
}

function span(name, head, tail) {
  const words = ([side, level]) => `${side} end plate of ${level}`;
  return {
    key: `${name}_angle_deg`, unit: "°", formula: openingDeg, head, tail,
    words: `${name[0].toUpperCase()}${name.slice(1)}: ${words(head)} to ${words(tail)}`,
  };
}
