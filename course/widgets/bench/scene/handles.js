// What a picture of the engine is given, and how a press on one of its parts works the part's control.

/**
 * @import { Control, SendAct, Settings } from "../../types.d.ts"
 * @import { TurnHandle } from "../turn_handle.js"
 *
 * @typedef {object} Facts What a person knows of this engine. `rotor_turns` lays out the leads and draws no arrow.
 * @property {number} cylinders
 * @property {string} [rotor_turns]
 * @property {string} [vacuum_source]
 *
 * @typedef {object} SceneState
 * @property {Settings} settings
 * @property {boolean} [running]
 * @property {boolean} [cranking]
 * @property {boolean} [warm]
 * @property {boolean} [on_road]
 * @property {number | null} [speed_rpm]
 * @property {number[]} [beats] Strength of each cylinder's last firing, 1 is even.
 * @property {number | null} [marked_at] Where the body stood when body and block were marked; nothing: not marked.
 * @property {number} [crept_deg] How far the clamp has moved the body, degrees clockwise.
 * @property {string} [arrow] Which way the rotor turns, where the picture may tell it.
 * @property {number | null} [mark_deg] Where a timing light shows the mark, degrees before top centre.
 *
 * @typedef {object} Workplace
 * @property {Control[]} controls
 * @property {SendAct} act
 * @property {(sentence: string) => void} say
 * @property {Facts} facts
 * @property {(name: string) => TurnHandle | undefined} handle The real control of a part that is turned.
 *
 * @typedef {object} CloseUp
 * @property {string} name
 * @property {string} called In a word, for the chooser.
 * @property {string} title
 * @property {SVGSVGElement} picture
 * @property {string[]} controls What is worked here, by name.
 * @property {(state: SceneState) => void} show
 */

/**
 * @param {Workplace} place
 * @param {string} name
 */
export function offered(place, name) {
  return place.controls.find((control) => control.name === name);
}

// Parts of the picture with a few places: a press on one asks for its next place, as its control does.
/**
 * @param {SVGSVGElement} picture
 * @param {Workplace} place
 * @param {() => Settings} settings
 * @param {...string} names
 */
export function pressOnPicture(picture, place, settings, ...names) {
  for (const name of names) {
    const control = offered(place, name);
    const part = picture.querySelector(`[data-part=${name}]`);
    if (!control || !part) continue;
    part.classList.add("es-press");
    part.addEventListener("click", () => {
      const next = control.choices.indexOf(String(settings()[name])) + 1;
      place.act({ control: name, value: control.choices[next % control.choices.length] });
    });
  }
}
