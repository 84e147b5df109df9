/* The surroundings of a point, enlarged, in the corner that is farther from it. */

const TIMES = 4;
const LEAST = 4; /* screen pixels for one of the file */
const GAP = 5;

export class Loupe {
  constructor(canvas, screen) {
    this.canvas = canvas;
    this.screen = screen;
    this.point = null;
  }

  /* Show it for a point of the picture; null puts it away. */
  at(point) {
    this.point = point;
    this.draw();
  }

  draw() {
    const { view, picture } = this.screen;
    const usable = Boolean(this.point && picture.frame);
    this.canvas.hidden = !usable;
    if (!usable) {
      return;
    }
    const ratio = window.devicePixelRatio || 1;
    const size = this.canvas.clientWidth;
    this.canvas.width = this.canvas.height = size * ratio;
    this.canvas.classList.toggle("stage__loupe--right", view.toScreen(this.point)[0] < view.width / 2);
    const scale = Math.max(view.zoom * TIMES, LEAST) * ratio;
    const pen = this.canvas.getContext("2d");
    pen.imageSmoothingEnabled = false;
    pen.setTransform(view.side * scale, 0, 0, scale * view.aspect, (size * ratio) / 2, (size * ratio) / 2);
    pen.drawImage(picture.source, -this.point[0] - 0.5, -this.point[1] - 0.5);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.cross(pen, size);
  }

  cross(pen, size) {
    const middle = size / 2;
    pen.beginPath();
    for (const sign of [-1, 1]) {
      pen.moveTo(middle + sign * GAP, middle);
      pen.lineTo(middle + sign * middle, middle);
      pen.moveTo(middle, middle + sign * GAP);
      pen.lineTo(middle, middle + sign * middle);
    }
    for (const name of ["--film", "--film-line"]) {
      pen.strokeStyle = getComputedStyle(this.canvas).getPropertyValue(name);
      pen.lineWidth = name === "--film" ? 3 : 1;
      pen.stroke();
    }
  }
}
