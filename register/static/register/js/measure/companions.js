/* Other series of the same frame of reference beside the one that is looked at: each scrolls
   by itself, and a line on each shows where the other one's slice lies. */

import { Keys } from "./keys.js";
import { Overlay } from "./overlay.js";
import { crossing, isPlaced } from "./planes.js";
import { Pointer } from "./pointer.js";
import { Screen } from "./screen.js";

const BUDGET_BYTES = 16 * 1024 * 1024;

/* The series that lie in the same space as this one. */
export function alike(data) {
  const same = (other) => !data.frame_of_reference || other.frame_of_reference === data.frame_of_reference;
  return (data.other_series || []).filter((other) =>
    same(other) && other.frames.length && other.frames.some(isPlaced) && data.frames.some(isPlaced));
}

export class Companion {
  constructor(root, series, main) {
    this.series = series;
    this.main = main;
    this.title = root.querySelector("[data-title]");
    this.svg = root.querySelector("[data-marks]");
    this.svg.setAttribute("aria-label", `Picture: ${series.name}`);
    this.screen = new Screen(root, series.frames, {
      place: Math.floor(series.frames.length / 2),
      budget: BUDGET_BYTES,
      changed: (what) => this.changed(what),
    });
    this.overlay = new Overlay(this.svg, this.screen.view);
    new Pointer(this.svg, this.screen, { setWindow: (window) => this.setWindow(window) });
    new Keys(this.svg, this.screen);
    this.screen.go(this.screen.place);
  }

  setWindow(window) {
    this.screen.picture.setWindow(window);
    this.screen.redraw();
  }

  changed(what) {
    if (!this.overlay) {
      return;
    }
    if (what === "frame") {
      this.title.textContent = this.series.name;
      this.main.redraw();
    }
    this.draw();
  }

  draw() {
    const line = crossing(this.screen.frame, this.main.frame);
    this.overlay.draw({ crossings: line ? [line] : [] });
  }
}

/* Put one for each series into the page; answers with what was made. */
export function companionsOf(root, data, main) {
  const place = root.querySelector("[data-companions]");
  const pattern = root.querySelector("[data-companion]");
  return alike(data).map((series) => {
    const part = pattern.content.firstElementChild.cloneNode(true);
    place.append(part);
    place.hidden = false;
    return new Companion(part, series, main);
  });
}
