/* From stored values to grey: modality, then window, then inversion, as one table with an
   entry for each value that can be stored, so that a picture is one look-up for each pixel.
   Pure. The server's register/images/shades.py does the same. */

/* Each layout: how the bytes are read, how many values there can be, and which of them are
   negative in two's complement. */
const LAYOUTS = {
  uint8: { read: (buffer) => new Uint8Array(buffer), size: 256, bytes: 1, negativeFrom: 256 },
  uint16: { read: (buffer) => new Uint16Array(buffer), size: 65536, bytes: 2, negativeFrom: 65536 },
  int16: { read: (buffer) => new Uint16Array(buffer), size: 65536, bytes: 2, negativeFrom: 32768 },
  rgb8: { read: (buffer) => new Uint8Array(buffer), size: 0, bytes: 3, negativeFrom: 0 },
};

export function isColour(frame) {
  return frame.layout === "rgb8";
}

export function bytesOf(frame) {
  return frame.rows * frame.columns * LAYOUTS[frame.layout].bytes;
}

/* The stored values of a frame, unsigned; `valueAt` gives them their sign back. */
export function stored(frame, buffer) {
  return LAYOUTS[frame.layout].read(buffer);
}

function valueAt(frame, index) {
  const { size, negativeFrom } = LAYOUTS[frame.layout];
  return index >= negativeFrom ? index - size : index;
}

export function rescaled(frame, index) {
  return valueAt(frame, index) * frame.slope + frame.intercept;
}

/* Grey 0 to 1 of a value under a window, by the functions of the published image standard
   (DICOM PS3.3, C.11.2.1.2 and C.11.2.1.3). A window is never narrower than 1. */
const FUNCTIONS = {
  LINEAR: (value, centre, width) => (width === 1
    ? Number(value > centre - 0.5)
    : (value - (centre - 0.5)) / (width - 1) + 0.5),
  LINEAR_EXACT: (value, centre, width) => (value - centre) / width + 0.5,
  SIGMOID: (value, centre, width) => 1 / (1 + Math.exp((-4 * (value - centre)) / width)),
};

export function windowed(value, { centre, width, function: name }) {
  const share = (FUNCTIONS[name] || FUNCTIONS.LINEAR)(value, centre, Math.max(width, 1));
  return Math.min(Math.max(share, 0), 1);
}

/* The nearest whole number; a half goes to the even one, as on the server. */
function nearest(value) {
  const up = Math.round(value);
  return up - value === 0.5 && up % 2 ? up - 1 : up;
}

/* 32 bits for each stored value: opaque, red = green = blue (little endian, as canvases are). */
export function table(frame, window) {
  const shades = new Uint32Array(LAYOUTS[frame.layout].size);
  for (let index = 0; index < shades.length; index += 1) {
    const shade = windowed(rescaled(frame, index), window);
    const grey = frame.inverted ? 255 - nearest(255 * shade) : nearest(255 * shade);
    shades[index] = 0xff000000 | (grey << 16) | (grey << 8) | grey;
  }
  return shades;
}

/* Paint stored values into 32-bit pixels. */
export function paint(frame, values, shades, pixels) {
  if (isColour(frame)) {
    for (let place = 0, at = 0; place < pixels.length; place += 1, at += 3) {
      pixels[place] = 0xff000000 | (values[at + 2] << 16) | (values[at + 1] << 8) | values[at];
    }
    return;
  }
  for (let place = 0; place < pixels.length; place += 1) {
    pixels[place] = shades[values[place]];
  }
}

/* The window that shows everything: the lowest value black, the highest white. Values that
   mean "outside the picture" do not count. */
export function wholeRange(frame, values) {
  const signed = frame.layout === "int16" ? new Int16Array(values.buffer) : values;
  const [from, to] = frame.padding || [1, 0];
  let low = Infinity;
  let high = -Infinity;
  for (let place = 0; place < signed.length; place += 1) {
    const value = signed[place];
    if (value < from || value > to) {
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
  }
  if (low > high) {
    return { centre: 0.5, width: 1 }; /* nothing but outside */
  }
  const ends = [low, high].map((value) => value * frame.slope + frame.intercept).sort((a, b) => a - b);
  return { centre: (ends[0] + ends[1] + 1) / 2, width: ends[1] - ends[0] + 1 };
}

/* The window that the file asks for; null when it asks for none. */
export function windowOfFile(frame) {
  return frame.centre === null || frame.centre === undefined || !(frame.width >= 1)
    ? null
    : { centre: frame.centre, width: frame.width, function: frame.function };
}
