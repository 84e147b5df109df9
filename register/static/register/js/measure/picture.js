/* One picture on a canvas: the frame's pixels under a window, drawn as the view says. */

import { isColour, paint, table, wholeRange, windowOfFile } from "./shades.js";

const SMOOTH_BELOW = 2; /* screen pixels for one of the file; above, single pixels are shown */

/* `work` once before the next picture of the screen, however often it is asked for. */
export function once(work) {
  let asked = false;
  return () => {
    if (!asked) {
      asked = true;
      requestAnimationFrame(() => {
        asked = false;
        work();
      });
    }
  };
}

export class Picture {
  constructor(canvas, view) {
    this.canvas = canvas;
    this.view = view;
    this.source = document.createElement("canvas");
    this.frame = null;
    this.window = null;
    this.pixels = null;
    this.shades = null;
    this.stale = false; /* painted again before it is drawn next, once for many changes */
  }

  /* Another frame. The window stays as the person set it; else it is the file's own. */
  show(frame, values) {
    const same = this.frame && this.frame.rows === frame.rows && this.frame.columns === frame.columns;
    this.frame = frame;
    this.values = values;
    if (!same) {
      this.source.width = frame.columns;
      this.source.height = frame.rows;
      this.pixels = this.source.getContext("2d").createImageData(frame.columns, frame.rows);
    }
    this.shades = null;
    this.stale = true;
  }

  get shown() {
    return this.window || windowOfFile(this.frame) || this.range();
  }

  /* The whole range of the first picture, kept for its series: slices of one series are to be
     compared with each other. */
  range() {
    this.whole = this.whole || wholeRange(this.frame, this.values);
    return this.whole;
  }

  setWindow(window) {
    this.window = window;
    this.shades = null;
    this.stale = true;
  }

  repaint() {
    this.stale = false;
    this.shades = this.shades || (isColour(this.frame) ? null : table(this.frame, this.shown));
    paint(this.frame, this.values, this.shades, new Uint32Array(this.pixels.data.buffer));
    this.source.getContext("2d").putImageData(this.pixels, 0, 0);
  }

  /* Fit the canvas to its place on the page; sharp on fine screens too. */
  resize(width, height) {
    this.ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * this.ratio);
    this.canvas.height = Math.round(height * this.ratio);
    this.view.resize(width, height);
  }

  draw() {
    const pen = this.canvas.getContext("2d");
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this.canvas.width, this.canvas.height);
    if (this.frame) {
      if (this.stale) {
        this.repaint();
      }
      pen.imageSmoothingEnabled = this.view.zoom * this.ratio < SMOOTH_BELOW;
      pen.imageSmoothingQuality = "high";
      pen.setTransform(...this.view.matrix(this.ratio));
      pen.drawImage(this.source, 0, 0);
    }
  }
}
