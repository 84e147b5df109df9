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

/* Grey 0 to 1 of a value under a window: the linear function of the published image standard
   (DICOM PS3.3, C.11.2.1.2.1). A window is never narrower than 1. */
export function windowed(value, centre, width) {
  const wide = Math.max(width, 1);
  if (value <= centre - 0.5 - (wide - 1) / 2) {
    return 0;
  }
  if (value > centre - 0.5 + (wide - 1) / 2) {
    return 1;
  }
  return (value - (centre - 0.5)) / (wide - 1) + 0.5;
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
    const shade = windowed(rescaled(frame, index), window.centre, window.width);
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

/* The window that shows everything: the lowest value black, the highest white. */
export function wholeRange(frame, values) {
  const signed = frame.layout === "int16" ? new Int16Array(values.buffer) : values;
  let low = Infinity;
  let high = -Infinity;
  for (let place = 0; place < signed.length; place += 1) {
    low = Math.min(low, signed[place]);
    high = Math.max(high, signed[place]);
  }
  const ends = [low, high].map((value) => value * frame.slope + frame.intercept).sort((a, b) => a - b);
  return { centre: (ends[0] + ends[1] + 1) / 2, width: ends[1] - ends[0] + 1 };
}

/* The window that the file asks for; null when it asks for none. */
export function windowOfFile(frame) {
  return frame.centre === null || frame.centre === undefined || !(frame.width >= 1)
    ? null
    : { centre: frame.centre, width: frame.width };
}
