// The buttons of a recording: which one, play or pause, one act further, from the beginning; and what is being done.

import { HANDS_OFF, element, freshId, pushButton, setText } from "../shared/elements.js";
import { KernelWatch } from "../shared/kernel_watch.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Alive, Heartbeat, Pair, View } from "../types.d.ts"
 * @import { UnitChoice } from "../shared/units.js"
 *
 * @typedef {object} Traits
 * @property {string} connection
 * @property {Partial<UnitChoice>} chosen_units
 * @property {Pair[]} recordings
 * @property {string} chosen
 * @property {string} caption
 * @property {boolean} playing
 * @property {number} at
 * @property {number} acts
 *
 * @typedef {Heartbeat | { press: "play" | "pause" | "step" | "again" } | { choose: string }} Sent
 * @typedef {View<Traits, Sent, Alive>} Player
 */

const BEGIN = "Press Play. The engine waits between two acts where you press Pause; Step does one act.";

/** @param {Player} view */
function render({ model, el }) {
  const gone = new AbortController();
  const [heading, list] = [freshId("sh-title"), freshId("sh-recording")];
  const kernel = element("p", { class: "cf-problem cf-kernel", role: "alert", hidden: true });
  const watch = new KernelWatch(
    (number) => model.send({ heartbeat: number }),
    (state, sentence) => {
      setText(kernel, sentence);
      kernel.hidden = state === "answers";
    },
    gone.signal,
  );
  const send = (/** @type {Sent} */ message) => watch.attemptAndAsk(() => model.send(message));
  const play = pushButton("Play", () => send({ press: model.get("playing") ? "pause" : "play" }), {
    class: "sh-play cf-press",
  });
  const choice = element(
    "select",
    { ...HANDS_OFF, id: list, on: { change: (event) => send({ choose: event.currentTarget.value }) } },
    ...model.get("recordings").map(([name, title]) => element("option", { value: name }, title)),
  );
  const caption = element("p", { class: "sh-caption", role: "status", "aria-live": "polite" });
  const far = element("span", { class: "cf-tries" });
  const show = () => {
    const [at, acts, playing] = [model.get("at"), model.get("acts"), model.get("playing")];
    choice.value = model.get("chosen");
    setText(play, playing ? "Pause" : acts && at >= acts ? "Play again" : "Play");
    setText(caption, model.get("caption") || BEGIN);
    setText(far, acts ? `Act ${at} of ${acts}` : "");
  };
  const changes = /** @type {const} */ (["caption", "playing", "at", "acts", "chosen"]);
  for (const name of changes) model.on(`change:${name}`, show);
  const alive = (/** @type {Alive} */ answer) => answer.alive && watch.answered(answer.alive);
  model.on("msg:custom", alive);
  gone.signal.addEventListener("abort", () => {
    for (const name of changes) model.off(`change:${name}`, show);
    model.off("msg:custom", alive);
  });
  el.append(
    element(
      "section",
      { class: "course-form sh-player", "aria-labelledby": heading },
      element("div", { class: "cf-head" }, element("span", { class: "cf-heading", id: heading }, "To watch")),
      kernel,
      element("div", { class: "cf-row" }, element("label", { for: list }, "Recording"), choice),
      element(
        "div",
        { class: "cf-row" },
        play,
        pushButton("Step", () => send({ press: "step" })),
        pushButton("From the beginning", () => send({ press: "again" })),
        far,
      ),
      caption,
    ),
  );
  show();
  return () => gone.abort();
}

export default { initialize: hear, render };
