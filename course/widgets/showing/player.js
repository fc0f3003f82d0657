// The buttons of a recording: which one, play or pause, one act further, from the beginning; and what is being done.

import { HANDS_OFF, element, freshId, pushButton, setText } from "../shared/elements.js";
import { hear } from "../shared/late_start.js";
import { cardAboveBench } from "./above_a_bench.js";

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
 * @typedef {{ press: "play" | "pause" | "step" | "again" } | { choose: string }} Pressed
 * @typedef {View<Traits, Heartbeat | Pressed, Alive>} Player
 */

const BEGIN = "Press Play. The engine waits between two acts where you press Pause; Step does one act.";

/** @param {Player} view */
function render(view) {
  const card = { name: "player", heading: "To watch" };
  return cardAboveBench(view, card, (send, listen) => player(view.model, send, listen));
}

/**
 * @param {Player["model"]} model
 * @param {(message: Pressed) => void} send
 * @param {(names: (keyof Traits)[], update: () => void) => void} listen
 */
function player(model, send, listen) {
  const list = freshId("sh-recording");
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
  listen(["caption", "playing", "at", "acts", "chosen"], () => {
    const [at, acts, playing] = [model.get("at"), model.get("acts"), model.get("playing")];
    choice.value = model.get("chosen");
    setText(play, playing ? "Pause" : acts && at >= acts ? "Play again" : "Play");
    setText(caption, model.get("caption") || BEGIN);
    setText(far, acts ? `Act ${at} of ${acts}` : "");
  });
  return [
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
  ];
}

export default { initialize: hear, render };
