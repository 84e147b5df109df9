/* The surroundings of a point, enlarged, in the corner that is farther from it. */

const TIMES = 4;
const LEAST = 4; /* screen pixels for one of the file */
const MOST = 48; /* above, single pixels are plain to see without it */
const GAP = 5;

export class Loupe {
  constructor(canvas, screen) {
    this.canvas = canvas;
    this.screen = screen;
    this.point = null;
    this.piece = document.createElement("canvas");
    const named = getComputedStyle(canvas);
    this.colours = [["--film", 3], ["--film-line", 1]]
      .map(([name, wide]) => [named.getPropertyValue(name).trim(), wide]);
  }

  /* Show it for a point of the picture; null puts it away. */
  at(point) {
    this.point = point;
    this.draw();
  }

  draw() {
    const { view, picture } = this.screen;
    const usable = Boolean(this.point && picture.frame && view.zoom * TIMES < MOST);
    this.canvas.hidden = !usable;
    if (!usable) {
      return;
    }
    const ratio = window.devicePixelRatio || 1;
    const size = this.canvas.clientWidth;
    if (this.canvas.width !== Math.round(size * ratio)) {
      this.canvas.width = this.canvas.height = Math.round(size * ratio);
    }
    this.canvas.classList.toggle("stage__loupe--right", view.toScreen(this.point)[0] < view.width / 2);
    const scale = Math.max(view.zoom * TIMES, LEAST) * ratio;
    const pen = this.canvas.getContext("2d");
    pen.imageSmoothingEnabled = false;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, size * ratio, size * ratio);
    pen.setTransform(view.side * scale, 0, 0, scale * view.aspect, (size * ratio) / 2, (size * ratio) / 2);
    /* Only what is seen is taken: a whole film for each move would be slow. */
    const [x, y] = this.point.map((at) => at + 0.5);
    const reach = (size * ratio) / 2 / scale / Math.min(view.aspect, 1) + 1;
    const [left, top] = [x, y].map((at) => Math.floor(at - reach));
    pen.drawImage(this.pieceOf(picture, left, top, Math.ceil(2 * reach) + 2), left - x, top - y);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.cross(pen, size);
  }

  /* A square of the picture's own pixels; transparent beyond its edges. */
  pieceOf({ pixels }, left, top, wide) {
    this.piece.width = this.piece.height = wide;
    this.piece.getContext("2d").putImageData(pixels, -left, -top, left, top, wide, wide);
    return this.piece;
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
    for (const [colour, wide] of this.colours) {
      pen.strokeStyle = colour;
      pen.lineWidth = wide;
      pen.stroke();
    }
  }
}
