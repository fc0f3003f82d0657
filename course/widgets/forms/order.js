// Steps to put in order: by buttons, by Alt with an arrow key, or by dragging.

import { element, pushButton, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Pair } from "../types.d.ts"
 *
 * @typedef {Form<{ steps: Pair[] }, { value: string[] }, { value: string[] }>} OrderForm
 */

/** @param {OrderForm} view */
function render(view) {
  return showForm(view, orderWork);
}

/** @param {OrderForm["model"]} model */
function orderWork(model) {
  const list = new StepList(new Map(model.get("steps")), model.get("answer").value);
  return { root: list.root, value: () => ({ value: list.order() }) };
}

class StepList {
  // `texts` are the steps by id, in the order in which they are shown; `order` is an order to begin with.
  /**
   * @param {Map<string, string>} texts
   * @param {string[] | undefined} order
   */
  constructor(texts, order) {
    this.texts = texts;
    this.heard = element("p", { class: "cf-hidden", role: "status", "aria-live": "polite" });
    this.list = element("ol", {
      class: "cf-steps",
      on: { keydown: (event) => this.onKey(event), pointerdown: (event) => this.onGrasp(event) },
    });
    this.list.append(...(order ?? [...texts.keys()]).map((id) => this.step(id)));
    this.root = element(
      "div",
      {},
      element(
        "p",
        { class: "cf-hint" },
        "Drag a step, press its arrows, or hold Alt and press the up or down arrow key while one of them has the focus.",
      ),
      this.list,
      this.heard,
    );
    this.renumber();
  }

  /** @param {string} id */
  step(id) {
    const text = this.texts.get(id);
    /** @type {(sign: string, by: number, word: string) => HTMLElement} */
    const arrow = (sign, by, word) =>
      pushButton(sign, () => this.move(item, by), {
        class: "cf-arrow",
        "data-by": by,
        "aria-label": `Move ${word}: ${text}`,
      });
    const item = element(
      "li",
      { class: "cf-step", "data-step": id },
      element("span", { class: "cf-grip", "aria-hidden": "true" }, "⋮⋮"),
      element("span", { class: "cf-place", "aria-hidden": "true" }),
      element("span", { class: "cf-step-text" }, text),
      element("span", { class: "cf-arrows" }, arrow("↑", -1, "up"), arrow("↓", 1, "down")),
    );
    return item;
  }

  items() {
    return /** @type {HTMLElement[]} */ ([...this.list.children]);
  }

  order() {
    return this.items().map(stepOf);
  }

  /**
   * @param {HTMLElement} item
   * @param {number} by
   */
  move(item, by) {
    const other = by < 0 ? item.previousElementSibling : item.nextElementSibling;
    const text = this.texts.get(stepOf(item));
    if (!other) {
      setText(this.heard, `Already ${by < 0 ? "first" : "last"}: ${text}`);
      return;
    }
    // The neighbour is the one that moves in the page, so that the focus stays where it is.
    if (by < 0) item.after(other);
    else item.before(other);
    this.renumber();
    this.say(item);
  }

  /** @param {HTMLElement} item */
  say(item) {
    const place = this.items().indexOf(item) + 1;
    setText(this.heard, `Now ${place} of ${this.list.children.length}: ${this.texts.get(stepOf(item))}`);
  }

  renumber() {
    const items = this.items();
    items.forEach((item, index) => {
      for (const place of item.querySelectorAll(".cf-place")) setText(place, String(index + 1));
      const [up, down] = item.querySelectorAll("button");
      // Not `disabled`: a button that goes dead under the hand would drop the focus.
      up.setAttribute("aria-disabled", String(index === 0));
      down.setAttribute("aria-disabled", String(index === items.length - 1));
    });
  }

  /** @param {KeyboardEvent & { target: Element }} event */
  onKey(event) {
    /** @type {Record<string, number | undefined>} */
    const ways = { ArrowUp: -1, ArrowDown: 1 };
    const by = ways[event.key];
    const item = event.target.closest("li");
    if (!by || !event.altKey || !item) return;
    event.preventDefault();
    event.stopPropagation();
    this.move(item, by);
  }

  // A mouse may take a step anywhere; a finger by its grip, since elsewhere it scrolls the page.
  /** @param {PointerEvent & { target: Element }} event */
  onGrasp(event) {
    const item = event.target.closest("li");
    const held = event.target.closest(".cf-grip") || event.pointerType === "mouse";
    if (!item || !held || event.button !== 0 || event.target.closest("button")) return;
    event.preventDefault();
    const from = this.order().join();
    const follow = new AbortController();
    const { signal } = follow;
    item.classList.add("cf-held");
    const end = () => {
      follow.abort();
      item.classList.remove("cf-held");
      if (this.order().join() !== from) this.say(item);
    };
    window.addEventListener("pointermove", (moved) => this.dragTo(item, moved.clientY), { signal });
    window.addEventListener("pointerup", end, { signal });
    window.addEventListener("pointercancel", end, { signal });
  }

  /**
   * @param {HTMLElement} item
   * @param {number} height
   */
  dragTo(item, height) {
    const others = this.items().filter((other) => other !== item);
    const below = others.find((other) => {
      const box = other.getBoundingClientRect();
      return height < box.top + box.height / 2;
    });
    if (below === item.nextElementSibling && (below || item === this.list.lastElementChild)) return;
    this.list.insertBefore(item, below ?? null);
    this.renumber();
  }
}

/** @param {HTMLElement} item */
function stepOf(item) {
  return /** @type {string} */ (item.dataset.step);
}

export default { initialize: hear, render };
