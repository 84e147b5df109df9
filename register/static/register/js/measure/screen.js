/* One place on the page that shows a series: its canvas, its drawing, the words on it, and
   scrolling. The marking works on top of it; a companion series is one without marks. */

import { Picture, once } from "./picture.js";
import { Pixels } from "./pixels.js";
import { sides } from "./planes.js";
import { aspectOf } from "./spacing.js";
import { View } from "./view.js";

const WHEEL_PX = 60; /* of turning for one slice */

export class Screen {
  /* `root` holds [data-stage] with its parts; `changed(what)` hears "frame", "view". */
  constructor(root, frames, { place = 0, mirrored = false, budget, changed = () => {} }) {
    this.root = root;
    this.stage = root.querySelector("[data-stage]");
    this.frames = frames;
    this.place = place;
    this.changed = changed;
    this.turned = 0;
    this.view = new View({ ...this.frame, aspect: aspectOf(this.frame), mirrored });
    this.picture = new Picture(this.part("picture"), this.view);
    this.pixels = new Pixels(frames, (arrived) => arrived === this.place && this.arrived(), budget);
    this.redraw = once(() => this.draw());
    this.part("again").addEventListener("click", () => this.go(this.place));
    new ResizeObserver(() => this.measure()).observe(this.stage);
    this.measure();
  }

  part(name) {
    return this.stage.querySelector(`[data-${name}]`);
  }

  get frame() {
    return this.frames[this.place];
  }

  get series() {
    return this.frames.length > 1;
  }

  measure() {
    const { clientWidth, clientHeight } = this.stage;
    if (clientWidth && clientHeight) {
      this.picture.resize(clientWidth, clientHeight);
      this.draw();
    }
  }

  go(place) {
    this.place = Math.min(Math.max(place, 0), this.frames.length - 1);
    this.pixels.go(this.place);
    this.arrived();
  }

  /* Show what is here; say what is not. The picture of another slice never stands under
     this one's number. */
  arrived() {
    const found = this.pixels.at(this.place);
    const trouble = this.pixels.trouble(this.place);
    this.part("trouble").hidden = !trouble;
    this.part("trouble-words").textContent = trouble;
    this.part("waiting").hidden = Boolean(found || trouble);
    this.part("waiting").textContent = this.series ? `Fetching ${this.label}…` : "Fetching the picture…";
    this.stage.classList.toggle("stage--waiting", !found);
    if (found) {
      this.adopt(this.frame);
      this.picture.show(found.frame, found.values);
    }
    this.part("place").textContent = this.series ? this.label : "";
    this.changed("frame");
    this.redraw();
  }

  get label() {
    return this.frame.label || `${this.place + 1} of ${this.frames.length}`;
  }

  adopt(frame) {
    const { view } = this;
    if (view.columns !== frame.columns || view.rows !== frame.rows || view.aspect !== aspectOf(frame)) {
      Object.assign(view, { columns: frame.columns, rows: frame.rows, aspect: aspectOf(frame) });
      view.fit();
    }
  }

  draw() {
    this.picture.draw();
    this.sideWords();
    this.changed("view");
  }

  sideWords() {
    const found = sides(this.frame);
    const [left, right] = this.view.mirrored ? ["right", "left"] : ["left", "right"];
    const words = { left: found?.[left], right: found?.[right], top: found?.top, bottom: found?.bottom };
    for (const [side, word] of Object.entries(words)) {
      this.part(`side-${side}`).textContent = word || "";
    }
  }

  /* Turning the wheel: one slice for each notch. */
  wheel(event) {
    this.turned += event.deltaMode === 0 ? event.deltaY : event.deltaY * WHEEL_PX;
    const steps = Math.trunc(this.turned / WHEEL_PX);
    this.turned -= steps * WHEEL_PX;
    if (steps) {
      this.go(this.place + steps);
    }
  }

  /* The place that a key asks for; null for another key. */
  placeOf(key) {
    const to = {
      ArrowUp: this.place - 1, ArrowLeft: this.place - 1, ArrowDown: this.place + 1,
      ArrowRight: this.place + 1, PageUp: this.place - 10, PageDown: this.place + 10,
      Home: 0, End: this.frames.length - 1,
    };
    return key in to ? to[key] : null;
  }
}
