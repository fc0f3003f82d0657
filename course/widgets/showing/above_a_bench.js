// What the instructor's desk and the recordings have in common: a card above a bench, with its heading, and a line that
// tells when its program does not answer.

import { element, freshId, setText } from "../shared/elements.js";
import { KernelWatch } from "../shared/kernel_watch.js";

/**
 * @import { Alive, Heartbeat, View } from "../types.d.ts"
 *
 * @typedef {{ name: string, heading: string, remark?: string }} Card
 */

// `makeWork(send, listen)` returns the elements of the card; `listen(names, update)` calls `update` now and when a trait
// changes.
/**
 * @template Traits
 * @template Sent
 * @param {View<Traits, Sent | Heartbeat, Alive>} view
 * @param {Card} card
 * @param {(send: (message: Sent) => void, listen: (names: (keyof Traits & string)[], update: () => void) => void) => (Element | null)[]} makeWork
 */
export function cardAboveBench({ model, el }, { name, heading, remark }, makeWork) {
  const gone = new AbortController();
  const title = freshId("sh-title");
  const kernel = element("p", { class: "cf-problem cf-kernel", role: "alert", hidden: true });
  const watch = new KernelWatch(
    (number) => model.send({ heartbeat: number }),
    (state, sentence) => {
      setText(kernel, sentence);
      kernel.hidden = state === "answers";
    },
    gone.signal,
  );
  const alive = (/** @type {Alive} */ answer) => answer.alive && watch.answered(answer.alive);
  model.on("msg:custom", alive);
  gone.signal.addEventListener("abort", () => model.off("msg:custom", alive));
  const work = makeWork(
    (message) => watch.attemptAndAsk(() => model.send(message)),
    (names, update) => {
      for (const trait of names) {
        model.on(`change:${trait}`, update);
        gone.signal.addEventListener("abort", () => model.off(`change:${trait}`, update));
      }
      update();
    },
  );
  el.append(
    element(
      "section",
      { class: `course-form sh-${name}`, "aria-labelledby": title },
      element(
        "div",
        { class: "cf-head" },
        element("span", { class: "cf-heading", id: title }, heading),
        remark ? element("span", { class: "cf-worth" }, remark) : null,
      ),
      kernel,
      ...work,
    ),
  );
  return () => gone.abort();
}
