// Steps to put in order: by buttons, by Alt with an arrow key, or by dragging.

import { element, pushButton, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

function render(view) {
  return showForm(view, orderWork);
}

function orderWork(model) {
  const list = new StepList(new Map(model.get("steps")), model.get("answer").value);
  return { root: list.root, value: () => ({ value: list.order() }) };
}

class StepList {
  // `texts` are the steps by id, in the order in which they are shown; `order` is an order to begin with.
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

  step(id) {
    const text = this.texts.get(id);
    const arrow = (sign, by, word) =>
      pushButton(sign, (event) => this.move(event.target.closest("li"), by), {
        class: "cf-arrow",
        "data-by": by,
        "aria-label": `Move ${word}: ${text}`,
      });
    return element(
      "li",
      { class: "cf-step", "data-step": id },
      element("span", { class: "cf-grip", "aria-hidden": "true" }, "⋮⋮"),
      element("span", { class: "cf-place", "aria-hidden": "true" }),
      element("span", { class: "cf-step-text" }, text),
      element("span", { class: "cf-arrows" }, arrow("↑", -1, "up"), arrow("↓", 1, "down")),
    );
  }

  order() {
    return [...this.list.children].map((item) => item.dataset.step);
  }

  move(item, by) {
    const other = by < 0 ? item.previousElementSibling : item.nextElementSibling;
    const text = this.texts.get(item.dataset.step);
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

  say(item) {
    const place = [...this.list.children].indexOf(item) + 1;
    setText(this.heard, `Now ${place} of ${this.list.children.length}: ${this.texts.get(item.dataset.step)}`);
  }

  renumber() {
    const items = [...this.list.children];
    items.forEach((item, index) => {
      setText(item.querySelector(".cf-place"), String(index + 1));
      const [up, down] = item.querySelectorAll("button");
      // Not `disabled`: a button that goes dead under the hand would drop the focus.
      up.setAttribute("aria-disabled", index === 0);
      down.setAttribute("aria-disabled", index === items.length - 1);
    });
  }

  onKey(event) {
    const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    const item = event.target.closest("li");
    if (!by || !event.altKey || !item) return;
    event.preventDefault();
    event.stopPropagation();
    this.move(item, by);
  }

  // A mouse may take a step anywhere; a finger by its grip, since elsewhere it scrolls the page.
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

  dragTo(item, height) {
    const others = [...this.list.children].filter((other) => other !== item);
    const below = others.find((other) => {
      const box = other.getBoundingClientRect();
      return height < box.top + box.height / 2;
    });
    if (below === item.nextElementSibling && (below || item === this.list.lastElementChild)) return;
    this.list.insertBefore(item, below ?? null);
    this.renumber();
  }
}

export default { initialize: hear, render };
