// A drag that turns a part: three pixels are one fine step at any drawn size; with Shift, or pixel by pixel, finer.

/**
 * @import { Place } from "./shapes.js"
 *
 * @typedef {object} Turnable
 * @property {() => void} takeHold
 * @property {(pixels: number) => void} dragBy
 * @property {() => void} letGo
 * @property {(event: WheelEvent) => void} wheeled
 */

export const PIXELS_PER_STEP = 3;
const FINER = 0.25;
const ROUND_ENOUGH = 0.9; // share of a movement from which it counts as one round the part
const SLOW_PIXELS = 2;
const SLOW_MS = 40;

// Pixels of a movement round the part, where the pointer is now, or straight on, as it was pulled at first (both ways
// unit vectors): all of them where it goes more along than across, else none.
/**
 * @param {Place} moved
 * @param {Place} round
 * @param {Place} straight
 * @param {boolean} finer
 */
export function pixelsAlong([dx, dy], round, straight, finer) {
  const length = Math.hypot(dx, dy);
  const [now, first] = [round, straight].map(([x, y]) => dx * x + dy * y);
  const along = Math.abs(now) >= ROUND_ENOUGH * length || Math.abs(now) >= Math.abs(first) ? now : first;
  if (Math.abs(along) < length / 2) return 0;
  return Math.sign(along) * length * (finer ? FINER : 1);
}

// A part to take hold of: a finger that begins on it moves the part and never the page. The style alone does not keep the
// page still where the part is drawn: browsers heed `touch-action` on boxes only.
/** @param {HTMLElement | SVGElement} grip */
export function keepsFinger(grip) {
  grip.classList.add("es-grip");
  grip.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
}

// Turn `handle` by a pointer on `grip`: round `centre` (on the screen), or along the line to the right where it is null.
/**
 * @param {HTMLElement | SVGElement} grip
 * @param {Turnable} handle
 * @param {(() => Place) | null} centre
 * @param {1 | -1} sense
 */
export function turnByDragging(grip, handle, centre, sense = 1) {
  /** @type {{ pointer: number, at: Place, straight: Place, time: number } | null} */
  let held = null;
  /** @type {(event: PointerEvent) => Place} */
  const way = (event) => {
    if (!centre) return [sense, 0];
    const [x, y] = centre();
    const [dx, dy] = [event.clientX - x, event.clientY - y];
    const radius = Math.hypot(dx, dy) || 1;
    return [(-sense * dy) / radius, (sense * dx) / radius];
  };
  const begin = (/** @type {PointerEvent} */ event) => {
    if (event.button !== 0 || held) return;
    event.preventDefault();
    grip.setPointerCapture(event.pointerId);
    held = {
      pointer: event.pointerId,
      at: [event.clientX, event.clientY],
      straight: way(event),
      time: event.timeStamp,
    };
    handle.takeHold();
  };
  const move = (/** @type {PointerEvent} */ event) => {
    if (held?.pointer !== event.pointerId) return;
    /** @type {Place} */
    const moved = [event.clientX - held.at[0], event.clientY - held.at[1]];
    const slow = Math.hypot(...moved) <= SLOW_PIXELS && event.timeStamp - held.time >= SLOW_MS;
    held = { ...held, at: [event.clientX, event.clientY], time: event.timeStamp };
    handle.dragBy(pixelsAlong(moved, way(event), held.straight, event.shiftKey || slow));
  };
  const end = (/** @type {PointerEvent} */ event) => {
    if (held?.pointer !== event.pointerId) return;
    held = null;
    handle.letGo();
  };
  keepsFinger(grip);
  grip.addEventListener("pointerdown", /** @type {EventListener} */ (begin));
  grip.addEventListener("pointermove", /** @type {EventListener} */ (move));
  grip.addEventListener("wheel", (event) => handle.wheeled(/** @type {WheelEvent} */ (event)));
  for (const name of ["pointerup", "pointercancel", "lostpointercapture"])
    grip.addEventListener(name, /** @type {EventListener} */ (end));
}
