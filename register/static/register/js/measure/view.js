/* Which part of a picture is seen and how large: from pixels of the file to pixels of the
   screen and back. Pure. `width` and `height` are those of the stage in CSS pixels. */

const MOST = 40; /* screen pixels for one pixel of the file */
const MARGIN = 0.98;

export class View {
  constructor({ columns, rows, aspect, mirrored = false }) {
    Object.assign(this, { columns, rows, aspect, mirrored, width: 1, height: 1 });
    this.fit();
  }

  get fitting() {
    return MARGIN * Math.min(this.width / this.columns, this.height / (this.rows * this.aspect));
  }

  /* The whole picture, in the middle. */
  fit() {
    this.zoom = this.fitting;
    this.x = (this.columns - 1) / 2;
    this.y = (this.rows - 1) / 2;
  }

  /* The stage has another size: what was in the middle stays there, and a whole picture
     stays whole. */
  resize(width, height) {
    const whole = Math.abs(this.zoom / this.fitting - 1) < 1e-6;
    this.width = width;
    this.height = height;
    if (whole) {
      this.fit();
    }
  }

  get side() {
    return this.mirrored ? -1 : 1;
  }

  toScreen([x, y]) {
    return [
      this.width / 2 + this.side * (x - this.x) * this.zoom,
      this.height / 2 + (y - this.y) * this.zoom * this.aspect,
    ];
  }

  toPicture([left, top]) {
    return [
      this.x + (this.side * (left - this.width / 2)) / this.zoom,
      this.y + (top - this.height / 2) / (this.zoom * this.aspect),
    ];
  }

  /* A step on the screen as a step in the file. */
  stepOf([left, top]) {
    return [(this.side * left) / this.zoom, top / (this.zoom * this.aspect)];
  }

  pan(step) {
    const [x, y] = this.stepOf(step);
    this.x = Math.min(Math.max(this.x - x, 0), this.columns - 1);
    this.y = Math.min(Math.max(this.y - y, 0), this.rows - 1);
  }

  /* Larger or smaller; what is under `at` on the screen stays there. */
  zoomBy(factor, at = [this.width / 2, this.height / 2]) {
    const under = this.toPicture(at);
    this.zoom = Math.min(Math.max(this.zoom * factor, this.fitting), Math.max(MOST, this.fitting));
    const now = this.toScreen(under);
    this.pan([at[0] - now[0], at[1] - now[1]]);
  }

  /* Bring a point of the picture into sight, with room around it. */
  reveal(point, room = 40) {
    const [left, top] = this.toScreen(point);
    const off = (at, size) => {
      const edge = Math.min(room, size / 4);
      return Math.max(edge - at, 0) || Math.min(size - edge - at, 0);
    };
    const step = [off(left, this.width), off(top, this.height)];
    if (step[0] || step[1]) {
      this.pan(step);
    }
    return Boolean(step[0] || step[1]);
  }

  /* The matrix for drawing the file's pixels on a canvas; a pixel's centre is its place. */
  matrix(ratio) {
    const across = this.side * this.zoom * ratio;
    const down = this.zoom * this.aspect * ratio;
    const [left, top] = this.toScreen([-0.5, -0.5]);
    return [across, 0, 0, down, left * ratio, top * ratio];
  }
}
