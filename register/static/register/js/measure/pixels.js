/* Fetches the stored values of frames, the one that is wanted first, then its neighbours as
   far as the memory set aside for them reaches. On a slow line several come at once, so that
   scrolling finds the next slices already here. */

import { bytesOf, stored } from "./shades.js";

const BUDGET_BYTES = 160 * 1024 * 1024;
const AT_ONCE = 6; /* connections that a browser opens to one address */
const REACH = 48; /* neighbours that are fetched before anybody asks for them */
const BACK_EVERY = 4; /* of so many neighbours one lies against the direction of travel */

export const SIGNED_OUT = "You have been signed out. Sign in again in another tab, then try again. Your marks stay on this page.";
export const NO_PICTURE = "The picture could not be fetched. Your marks stay on this page.";

/* Why there is no picture, in words for the reader. */
class Trouble extends Error {}

/* {frame, values}: the frame with what only decoding tells, and its stored values. */
async function fetched(told) {
  const answer = await fetch(told.url, { credentials: "same-origin" });
  if (answer.status === 401 || answer.status === 403 || answer.redirected) {
    throw new Trouble(SIGNED_OUT);
  }
  if (answer.status === 422) {
    throw new Trouble(await answer.text());
  }
  const frame = decoded(told, JSON.parse(answer.headers.get("X-Picture") || "{}"));
  const buffer = await answer.arrayBuffer();
  if (!answer.ok || buffer.byteLength !== bytesOf(frame)) {
    throw new Trouble(NO_PICTURE);
  }
  return { frame, values: stored(frame, buffer) };
}

/* The file's window stays as it was indexed: for a file without one decoding names the range. */
function decoded(told, head) {
  const better = ["layout", "slope", "intercept", "inverted", "padding", "function"]
    .filter((name) => head[name] !== undefined).map((name) => [name, head[name]]);
  return { ...told, ...Object.fromEntries(better) };
}

export class Pixels {
  /* `told(place)` is called when the frame at a place has come or has failed. */
  constructor(frames, told, budget = BUDGET_BYTES) {
    this.frames = frames;
    this.told = told;
    this.budget = budget;
    this.here = new Map();
    this.coming = new Set();
    this.failed = new Map();
    this.place = 0;
    this.direction = 1;
  }

  at(place) {
    return this.here.get(place) || null;
  }

  /* Why a frame is not here, in words; "" while it is on its way. */
  trouble(place) {
    return this.failed.get(place) || "";
  }

  /* This is the frame that is looked at now. A frame that failed is tried again. */
  go(place) {
    this.direction = place < this.place ? -1 : 1;
    this.place = place;
    this.failed.delete(place);
    this.fill();
  }

  /* Places in the order in which they are wanted. */
  *wanted() {
    const room = Math.max(1, Math.floor(this.budget / Math.max(bytesOf(this.frames[this.place]), 1)));
    const most = Math.min(room, REACH, this.frames.length);
    let ahead = 0;
    let back = 0;
    for (let given = 0, step = 0; given < most && step < 3 * this.frames.length; step += 1) {
      const turnBack = step % BACK_EVERY === BACK_EVERY - 1;
      const away = turnBack ? -(back += 1) : ahead++;
      const place = this.place + this.direction * away;
      if (place >= 0 && place < this.frames.length) {
        given += 1;
        yield place;
      }
    }
  }

  fill() {
    for (const place of this.wanted()) {
      if (this.coming.size >= AT_ONCE) {
        return;
      }
      if (!this.here.has(place) && !this.coming.has(place) && !this.failed.has(place)) {
        this.fetch(place);
      }
    }
  }

  async fetch(place) {
    this.coming.add(place);
    try {
      this.here.set(place, await fetched(this.frames[place]));
      this.forget();
    } catch (error) {
      this.failed.set(place, error instanceof Trouble ? error.message : NO_PICTURE);
    }
    this.coming.delete(place);
    this.told(place);
    this.fill();
  }

  /* Let go of what lies furthest away until the rest fits. */
  forget() {
    let bytes = 0;
    const near = [...this.here.keys()].sort((a, b) => Math.abs(a - this.place) - Math.abs(b - this.place));
    for (const place of near) {
      bytes += this.here.get(place).values.byteLength;
      if (bytes > this.budget && place !== this.place) {
        this.here.delete(place);
      }
    }
  }
}
