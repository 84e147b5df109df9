/* The drawing over the picture: points that take the focus, the lines between them, the words
   beside them. It is made once and only moved afterwards, so that a moved point is drawn
   within one picture of the screen. */

import { finder, labelsOf } from "./labels.js";
import { KNOWN, KNOWN_ENDS } from "./marks.js";
import { stretches } from "./shapes.js";
import { write } from "./write.js";

const SVG = "http://www.w3.org/2000/svg";
const ENDS = { start: "one end of the known length", end: "other end of the known length" };
const tenth = (value) => value.toFixed(1).replace(/\.0$/, "");

function make(parent, name, attributes = {}) {
  const made = document.createElementNS(SVG, name);
  Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
  parent.append(made);
  return made;
}

/* Elements of one kind that are used again for each drawing. */
class Pool {
  constructor(parent, name) {
    Object.assign(this, { parent, name, all: [] });
  }

  draw(items, put) {
    while (this.all.length < items.length) {
      this.all.push(make(this.parent, this.name));
    }
    this.all.forEach((element, place) => {
      element.toggleAttribute("hidden", place >= items.length);
      if (place < items.length) {
        put(element, items[place]);
      }
    });
  }
}

function set(element, attributes) {
  for (const [key, value] of Object.entries(attributes)) {
    if (element.getAttribute(key) !== String(value)) {
      element.setAttribute(key, value);
    }
  }
}

function putLine(element, { from, to, kind, guess = false, hot = false }) {
  const classes = `line line--${kind}${guess ? " line--guess" : ""}${hot ? " line--hot" : ""}`;
  set(element, { class: classes, x1: from[0], y1: from[1], x2: to[0], y2: to[1] });
}

export class Overlay {
  constructor(svg, view) {
    this.svg = svg;
    this.view = view;
    const layer = (name) => make(svg, "g", { class: `layer layer--${name}` });
    this.crossings = new Pool(layer("crossings"), "line");
    this.lines = new Pool(layer("lines"), "line");
    this.texts = new Pool(layer("texts"), "text");
    this.points = layer("points");
    this.places = new Map();
  }

  /* Make the points of a marking, in the order in which they are marked. */
  begin(marks, names, data) {
    Object.assign(this, { marks, names, data });
    const ends = KNOWN_ENDS.map((name) => [KNOWN, name]);
    for (const [level, name] of [...marks.all(), ...ends]) {
      const point = make(this.points, "g", {
        class: `point${level === data.level ? " point--hot" : ""}`, tabindex: 0, role: "button",
        "data-point": `${level} ${name}`, "aria-roledescription": "point",
      });
      make(point, "circle", { class: "point__target d-target", r: 12 });
      make(point, "circle", { class: "point__halo", r: 6 });
      make(point, "circle", { class: "point__ring", r: 6 });
      make(point, "circle", { class: "point__dot", r: 1.2 });
      this.places.set(`${level} ${name}`, point);
    }
  }

  element(level, name) {
    return this.places.get(`${level} ${name}`);
  }

  /* "T12, upper end plate, front corner" */
  words(level, name) {
    return level === KNOWN ? ENDS[name] : `${level}, ${this.names[name].replace(/^./, (one) => one.toLowerCase())}`;
  }

  /* `found` is what was measured, `active` the level whose values are shown, `shown` whether
     this picture is the one that is marked. */
  draw({ crossings, found, active, shown }) {
    this.crossings.draw(crossings.map((ends) => this.stretch(ends)), putLine);
    if (!this.marks) {
      return;
    }
    this.points.toggleAttribute("hidden", !shown);
    const levels = shown ? this.marks.levels : [];
    this.lines.draw(levels.flatMap((level) => this.linesOf(level)).concat(shown ? this.knownLine() : []), putLine);
    this.texts.draw(levels.flatMap((level) => this.textsOf(level, found, active)).concat(shown ? this.knownText() : []),
      (element, text) => this.putText(element, text));
    if (shown) {
      this.places.forEach((point, key) => this.putPoint(point, ...key.split(" ")));
    }
  }

  stretch([from, to]) {
    return { kind: "crossing", from: this.view.toScreen(from), to: this.view.toScreen(to) };
  }

  screenPlace(level, name) {
    const place = this.marks.at(level, name);
    return place && this.view.toScreen(place);
  }

  linesOf(level) {
    const at = (name) => this.marks.at(level, name);
    const proposed = (name) => this.marks.proposal(level, name);
    return stretches(this.data.view, at, proposed).map((line) => ({
      ...line, hot: level === this.data.level,
      from: this.view.toScreen(line.from), to: this.view.toScreen(line.to),
    }));
  }

  textsOf(level, found, active) {
    const value = level === active || level === this.data.level ? finder(found.rows, level, this.view.width) : null;
    const at = (name) => this.screenPlace(level, name);
    return labelsOf(this.data.view, level, this.data.order, at, value, this.view)
      .map((text) => ({ ...text, hot: level === this.data.level }));
  }

  knownLine() {
    const ends = KNOWN_ENDS.map((name) => this.screenPlace(KNOWN, name));
    return ends.every(Boolean) ? [{ kind: "known", from: ends[0], to: ends[1] }] : [];
  }

  knownText() {
    const ends = KNOWN_ENDS.map((name) => this.screenPlace(KNOWN, name)).filter(Boolean);
    const mm = this.marks.now[KNOWN]?.mm;
    return ends.length ? [{ words: mm ? `${mm} mm` : "known length", anchor: "start", x: ends[0][0] + 12, y: ends[0][1] - 10 }] : [];
  }

  putText(element, { words, x, y, anchor, level, hot }) {
    set(element, { x, y, "text-anchor": anchor, class: `label${level ? " label--level" : ""}${hot ? " label--hot" : ""}` });
    write(element, words);
  }

  putPoint(point, level, name) {
    const marked = this.marks.at(level, name);
    const place = marked || this.marks.proposal(level, name);
    if (!place && point === document.activeElement) {
      this.svg.focus();
    }
    point.toggleAttribute("hidden", !place);
    set(point, { tabindex: place ? 0 : -1 });
    if (place) {
      const [x, y] = this.view.toScreen(place);
      const where = `${tenth(place[0])} across, ${tenth(place[1])} down`;
      point.classList.toggle("point--guess", !marked);
      set(point, {
        transform: `translate(${x} ${y})`,
        "aria-label": `${this.words(level, name)}: ${marked ? where : `proposed at ${where}; Enter confirms it`}`,
      });
    }
  }
}
