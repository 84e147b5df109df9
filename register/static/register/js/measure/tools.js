/* The buttons and boxes around the picture. */

import { isColour, windowOfFile, wholeRange } from "./shades.js";

const ZOOM = 1.25;
/* As numbers are written everywhere here; below 0 for CT. */
const PLAIN = /^-?(0|[1-9]\d*)(\.\d+)?$/;
const shown = (value) => String(Math.round(value * 10) / 10);

export class Tools {
  constructor(root, screen, modes, mirror) {
    Object.assign(this, { root, screen, modes });
    const doing = {
      larger: () => this.zoom(() => screen.view.zoomBy(ZOOM)),
      smaller: () => this.zoom(() => screen.view.zoomBy(1 / ZOOM)),
      whole: () => this.zoom(() => screen.view.fit()),
      "whole-range": () => this.setWindow(wholeRange(screen.picture.frame, screen.picture.values)),
      "as-file": () => this.setWindow(windowOfFile(screen.picture.frame)),
      "window-mode": () => this.toggle("window-mode", (modes.window = !modes.window)),
      mirror: () => this.toggle("mirror", mirror()),
    };
    for (const [name, work] of Object.entries(doing)) {
      const button = this.one(name);
      button.addEventListener("click", () => {
        if (screen.picture.frame && button.getAttribute("aria-disabled") !== "true") {
          work();
        }
      });
    }
    this.boxes = ["centre", "width"].map((name) => root.querySelector(`[data-${name}]`));
    this.boxes.forEach((box) => {
      box.addEventListener("change", () => this.typed());
      box.addEventListener("keydown", (event) => {
        if (event.key === "Enter") {
          event.preventDefault(); /* the box is no answer of a form */
          this.typed();
        }
      });
    });
    this.slice = root.querySelector("[data-slice]");
    this.slice.max = screen.frames.length;
    this.slice.addEventListener("input", () => screen.go(Number(this.slice.value) - 1));
    root.querySelector("[data-slices]").hidden = !screen.series;
    this.toggle("mirror", screen.view.mirrored);
  }

  one(name) {
    return this.root.querySelector(`[data-do="${name}"]`);
  }

  toggle(name, on) {
    this.one(name).setAttribute("aria-pressed", String(on));
  }

  able(name, yes) {
    this.one(name).setAttribute("aria-disabled", String(!yes));
  }

  zoom(change) {
    change();
    this.screen.redraw();
  }

  setWindow(window) {
    if (window && !isColour(this.screen.picture.frame)) {
      this.screen.picture.setWindow(window);
      this.screen.redraw();
      this.tellWindow();
    }
  }

  /* What was typed stays; what cannot be read is said beside it. */
  typed() {
    const [centre, width] = this.boxes.map((box) => box.value.trim());
    const readable = PLAIN.test(centre) && PLAIN.test(width) && Number(width) >= 1;
    const words = this.root.querySelector("[data-window-trouble]");
    words.hidden = readable;
    words.textContent = readable ? "" : "Write centre and width in figures, for example 40 and 400; the width is 1 or more.";
    if (readable) {
      this.setWindow({ ...this.screen.picture.shown, centre: Number(centre), width: Number(width) });
    }
  }

  tellWindow() {
    const { picture } = this.screen;
    if (!picture.frame) {
      return;
    }
    const plain = !isColour(picture.frame);
    this.boxes.forEach((box) => { box.disabled = !plain; });
    this.able("as-file", plain && windowOfFile(picture.frame));
    this.able("whole-range", plain);
    this.able("window-mode", plain);
    if (plain && !this.boxes.includes(document.activeElement)) {
      const { centre, width } = picture.shown;
      this.boxes[0].value = shown(centre);
      this.boxes[1].value = shown(width);
    }
  }

  /* Another slice is shown. */
  tellFrame() {
    this.slice.value = this.screen.place + 1;
    this.slice.setAttribute("aria-valuetext", this.screen.label);
    this.tellWindow();
    const link = this.root.querySelector("[data-mark-link]");
    if (link) {
      link.hidden = !this.screen.frame.mark_url;
      link.href = this.screen.frame.mark_url || "";
    }
  }
}
