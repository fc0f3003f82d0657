// The bench in the browser: draws what the kernel says, sends what hands do, decides nothing about the engine.

import { element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { KernelWatch } from "../shared/kernel_watch.js";
import { inWords, quantity, readChoice, speedInWords, storeChoice } from "../shared/units.js";
import { Dial } from "./dial.js";
import { StripChart } from "./strip_chart.js";
import { EngineSound } from "./sound.js";
import { hands } from "./hands.js";
import { Nameplate } from "./nameplate.js";
import { toolTiles, toolsInShort } from "./tool_tiles.js";
import { WrittenRecord, minutesAndSeconds } from "../shared/log.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Act, Alive, Group, Heartbeat, OrEmpty, Pair, Said, Settings, View } from "../types.d.ts"
 * @import { KernelState } from "../shared/kernel_watch.js"
 * @import { Line } from "../shared/log.js"
 * @import { UnitChoice } from "../shared/units.js"
 * @import { Day } from "./nameplate.js"
 * @import { Sound } from "./sound.js"
 * @import { History } from "./strip_chart.js"
 * @import { ToolReadings } from "./tool_tiles.js"
 *
 * @typedef {object} Readings
 * @property {number} time_s
 * @property {boolean} running
 * @property {boolean} cranking
 * @property {boolean} warm
 * @property {boolean} on_road
 * @property {number | null} speed_rpm
 * @property {number | null} vacuum_inhg
 * @property {number} coolant_c
 * @property {string} idle_words
 * @property {string} ping_words
 * @property {number} ping_level
 *
 * @typedef {Said & { control: string }} SaidOfControl
 *
 * @typedef {object} Traits
 * @property {string} connection
 * @property {string} exercise
 * @property {string} title
 * @property {string} task
 * @property {Pair[]} nameplate
 * @property {Day} conditions
 * @property {Group[]} work
 * @property {OrEmpty<Readings>} readings
 * @property {ToolReadings} tools
 * @property {Settings} settings
 * @property {number} tries
 * @property {Line[]} record
 * @property {OrEmpty<SaidOfControl>} said
 * @property {string} problem
 *
 * @typedef {Heartbeat | { history: true } | { listen: true } | Act} Sent
 * @typedef {Partial<Alive & { sound: Sound, history: History }>} Heard
 * @typedef {View<Traits, Sent, Heard>} Bench
 */

const HEARTBEAT_MS = 5000;
const FAST_TOP = 1500;
/** @type {Record<string, string | undefined>} */
const TAKES_A_WHILE = {
  wait_until_warm: "The engine warms up: minutes pass on its clock, a few seconds on yours…",
  wait: "Ten seconds pass on the engine's clock…",
};
const PROGRESS_EVERY_MS = 500;
/** @type {Record<string, string | undefined>} */
const KINDS = { done: "", stopped: "Stopped, unsafe:", "not possible": "Not possible:", note: "Note:" };

/** @param {Bench} view */
function render({ model, el }) {
  const leave = new AbortController();
  const bench = new BenchView(model, leave.signal);
  el.append(bench.root);
  bench.begin();
  return () => leave.abort();
}

class BenchView {
  problem = element("p", { class: "eb-problem", role: "alert", hidden: true });
  kernel = element("p", { class: "eb-kernel", role: "alert", hidden: true });
  message = element("div", { class: "eb-message", role: "status", "aria-live": "polite" });
  brief = element("div", { class: "eb-brief", "aria-hidden": "true" });
  state = element("span", { class: "eb-state" });
  coolant = element("div", { class: "eb-coolant-fill" });
  coolantWords = element("span", { class: "eb-coolant-words" });
  coolantMeter = element(
    "div",
    {
      class: "eb-coolant-bar",
      role: "meter",
      "aria-label": "Coolant temperature",
      "aria-valuemin": 0,
      "aria-valuemax": 120,
    },
    this.coolant,
  );
  idleWords = element("span", { class: "eb-heard" });
  pingWords = element("span", { class: "eb-heard" });
  pingFill = element("span", { class: "eb-ping-fill" });
  soundButton = pushButton("Sound: off", () => this.switchSound(), {
    class: "eb-plain eb-sound",
    "aria-pressed": "false",
  });
  tries = element("span", { class: "eb-tries" });

  /** @type {number | undefined} */
  chalkedVacuum;
  /** @type {Readings | undefined} */
  latestReadings;
  /** @type {string | undefined} */
  spokenCoolant;
  /** @type {string[]} */
  toolsShort = [];
  /** @type {number | null} */
  setOff = null;

  /**
   * @param {Bench["model"]} model
   * @param {AbortSignal} gone
   */
  constructor(model, gone) {
    this.model = model;
    this.gone = gone;
    this.units = readChoice();
    this.fast = false;
    this.speed = new Dial("Tachometer", "speed");
    this.vacuum = new Dial("Vacuum gauge", "vacuum");
    this.strip = new StripChart();
    this.sound = new EngineSound();
    this.watch = new KernelWatch(
      (number) => model.send({ heartbeat: number }),
      (state, sentence) => this.showKernel(state, sentence),
      gone,
    );
    this.hands = hands(model.get("work"), (message) => this.act(message));
    this.record = new WrittenRecord();
    this.plate = new Nameplate(model.get("nameplate"));
    this.tools = toolTiles(model.get("work"));
    this.body = this.buildBody();
    this.foot = element("div", { class: "eb-foot" }, this.record.root, this.plate.root);
    this.root = this.build();
  }

  buildBody() {
    return element(
      "div",
      { class: "eb-body" },
      element(
        "div",
        { class: "eb-see" },
        this.instruments(),
        this.message,
        this.tools.root,
        this.ear(),
        this.strip.canvas,
      ),
      element("div", {}, this.brief, this.hands.root),
    );
  }

  build() {
    const heading = freshId("eb-title");
    return element(
      "section",
      { class: "engine-bench", "aria-labelledby": heading, "data-exercise": this.model.get("exercise") },
      element(
        "div",
        { class: "eb-head" },
        element(
          "div",
          { class: "eb-title", id: heading },
          // A lesson may have two benches of one engine: what is to be done there tells them apart.
          this.model.get("task") ? element("span", { class: "eb-task" }, this.model.get("task")) : null,
          this.model.get("title") || "Engine bench",
        ),
        this.state,
        this.soundButton,
        this.unitSwitches(),
        this.newTry(),
      ),
      this.problem,
      this.kernel,
      this.body,
      this.foot,
    );
  }

  instruments() {
    const chalk = pushButton("Chalk the needles", () => this.markNeedles(), { class: "eb-plain" });
    return element(
      "div",
      { class: "eb-instruments" },
      this.vacuum.root,
      this.speed.root,
      element(
        "div",
        { class: "eb-coolant" },
        element("span", { class: "eb-coolant-name", "aria-hidden": "true" }, "Coolant"),
        this.coolantMeter,
        this.coolantWords,
        chalk,
      ),
    );
  }

  ear() {
    return element(
      "div",
      { class: "eb-ear" },
      element("span", { class: "eb-label" }, "You hear"),
      this.idleWords,
      element("span", { class: "eb-label" }, "Under load"),
      element(
        "span",
        { class: "eb-load" },
        this.pingWords,
        element("span", { class: "eb-ping", "aria-hidden": "true" }, this.pingFill),
      ),
    );
  }

  unitSwitches() {
    /** @type {<Key extends keyof UnitChoice>(label: string, key: Key, options: UnitChoice[Key][]) => Element} */
    const choose = (label, key, options) =>
      element(
        "div",
        { class: "eb-choices", role: "group", "aria-label": label },
        ...options.map((unit) =>
          pushButton(unit, (event) => this.setUnit(key, unit, event.currentTarget), {
            class: "eb-choice",
            "aria-pressed": String(this.units[key] === unit),
          }),
        ),
      );
    return element(
      "div",
      { class: "eb-units" },
      choose("Unit of vacuum", "vacuum", ["inHg", "kPa"]),
      choose("Unit of temperature", "temperature", ["°F", "°C"]),
    );
  }

  switchSound() {
    if (this.sound.on) this.sound.stop();
    else if (!this.sound.start()) {
      this.message.dataset.kind = "note";
      this.message.replaceChildren(
        "This browser cannot play the engine's sound; the words under the gauges say the same.",
      );
      return;
    }
    if (this.sound.on) this.send({ listen: true });
    setText(this.soundButton, this.sound.on ? "Sound: on" : "Sound: off");
    setAttribute(this.soundButton, "aria-pressed", String(this.sound.on));
  }

  newTry() {
    const goOn = pushButton("No, go on", () => close(), { class: "eb-plain" });
    const ask = element(
      "span",
      { class: "eb-ask", hidden: true },
      element("span", {}, "Begin a new try? What you did so far is kept."),
      pushButton(
        "Yes, begin again",
        () => {
          close();
          this.act({ control: "begin" });
        },
        { class: "eb-plain" },
      ),
      goOn,
    );
    const open = pushButton(
      "New try",
      () => {
        ask.hidden = false;
        open.hidden = true;
        goOn.focus();
      },
      { class: "eb-plain" },
    );
    const close = () => {
      ask.hidden = true;
      open.hidden = false;
      open.focus();
    };
    return element("span", { class: "eb-new" }, this.tries, open, ask);
  }

  begin() {
    /** @type {<Name extends keyof Traits>(name: Name, update: (value: Traits[Name]) => void) => void} */
    const listen = (name, update) => {
      const listener = () => update(this.model.get(name));
      this.model.on(`change:${name}`, listener);
      this.gone.addEventListener("abort", () => this.model.off(`change:${name}`, listener));
      listener();
    };
    this.rescale();
    listen("readings", (readings) => this.showReadings(readings));
    listen("settings", (settings) => {
      if (Object.keys(settings).length) this.hands.update(settings);
    });
    listen("tools", (tools) => this.showTools(tools));
    listen("conditions", (day) => this.plate.show(day));
    listen("nameplate", (lines) => this.plate.describe(lines));
    listen("record", (lines) => this.record.show(lines));
    listen("tries", (tries) => setText(this.tries, `Try ${tries}`));
    listen("said", (said) => this.showSaid(said));
    listen("problem", (sentence) => this.showProblem(sentence));
    this.listenToAnswers();
    this.send({ history: true });
    this.keepHeart();
  }

  listenToAnswers() {
    const listener = (/** @type {Heard} */ answer) => {
      if (answer.alive) this.watch.answered(answer.alive);
      if (answer.sound) this.sound.hear(answer.sound);
      if (answer.history) {
        this.strip.fill(answer.history);
        this.strip.draw(performance.now());
      }
    };
    this.model.on("msg:custom", listener);
    this.gone.addEventListener("abort", () => {
      this.model.off("msg:custom", listener);
      this.sound.stop();
    });
  }

  // A kernel that does not answer must not look like an engine that stands still.
  /**
   * @param {KernelState} state
   * @param {string} sentence
   */
  showKernel(state, sentence) {
    setText(this.kernel, sentence);
    this.kernel.hidden = state === "answers";
    this.root.classList.toggle("eb-silent", state === "silent");
  }

  /** @param {Sent} message */
  send(message) {
    this.watch.attempt(() => this.model.send(message));
  }

  /** @param {Act} message */
  act(message) {
    this.watch.attemptAndAsk(() => this.model.send(message));
    const sentence = TAKES_A_WHILE[message.control];
    if (sentence) this.showProgress(sentence);
  }

  // How long the kernel is at it; how long it will take is not known, so the bar only says that work goes on.
  /** @param {string} sentence */
  showProgress(sentence) {
    const passed = element("span", { class: "eb-passed", "aria-hidden": "true" });
    const bar = element("progress", { "aria-label": "Under way" });
    this.message.replaceChildren(sentence, element("div", { class: "eb-progress" }, bar, passed));
    const begun = performance.now();
    const timer = setInterval(() => {
      if (!bar.isConnected || this.gone.aborted) clearInterval(timer);
      else setText(passed, `${Math.round((performance.now() - begun) / 1000)} s`);
    }, PROGRESS_EVERY_MS);
  }

  /** @param {ToolReadings} tools */
  showTools(tools) {
    this.tools.update(tools);
    this.toolsShort = toolsInShort(tools);
  }

  // A page that is hidden does not watch; the kernel switches an engine off that nobody watches.
  keepHeart() {
    const beat = () => {
      if (document.hidden || !this.root.isConnected) return;
      this.watch.question();
      if (this.sound.on) this.send({ listen: true });
    };
    const timer = setInterval(beat, HEARTBEAT_MS);
    document.addEventListener("visibilitychange", beat, { signal: this.gone });
    this.gone.addEventListener("abort", () => clearInterval(timer));
    requestAnimationFrame(beat);
  }

  /** @param {OrEmpty<Readings>} readings */
  showReadings(readings) {
    if (readings.time_s === undefined) return;
    this.latestReadings = readings;
    const { speed_rpm: speed, vacuum_inhg: vacuum } = readings;
    if (speed !== null) this.chooseRange(speed);
    this.speed.set(
      speed,
      speedInWords(speed, "lead off"),
      this.chalkWords(this.speed.chalk, (rpm) => speedInWords(rpm)),
    );
    const unit = this.units.vacuum;
    this.vacuum.set(
      vacuum === null ? null : quantity(unit).of(vacuum),
      inWords(vacuum, unit, "no hose"),
      this.chalkWords(this.chalkedVacuum ?? null, (inhg) => inWords(inhg, unit)),
    );
    const inShort = [inWords(vacuum, unit, "no hose"), speedInWords(speed, "lead off"), ...this.toolsShort];
    setText(this.brief, inShort.join(" · "));
    this.strip.add(readings.time_s, speed, vacuum);
    this.strip.draw(performance.now());
    this.showCoolant(readings);
    this.showEar(readings);
  }

  // A fine scale for setting the idle, a coarse one for driving; the gap between the two limits keeps it from flapping.
  /** @param {number} speed */
  chooseRange(speed) {
    const fast = this.fast ? speed > FAST_TOP * 0.8 : speed > FAST_TOP;
    if (fast !== this.fast) {
      this.fast = fast;
      this.rescale();
    }
  }

  /**
   * @param {number | null} mark
   * @param {(mark: number) => string} words
   */
  chalkWords(mark, words) {
    return mark === null ? "" : `chalk mark ${words(mark)}`;
  }

  /** @param {Readings} readings */
  showCoolant({ coolant_c: celsius, warm }) {
    const words = `${inWords(celsius, this.units.temperature)}, ${warm ? "warm" : "not yet warm"}`;
    this.coolant.style.width = `${Math.min(Math.max(celsius / 120, 0), 1) * 100}%`;
    this.coolant.classList.toggle("eb-warm", warm);
    setText(this.coolantWords, words);
    if (words !== this.spokenCoolant) {
      this.spokenCoolant = words;
      this.coolantMeter.setAttribute("aria-valuenow", celsius.toFixed(0));
      this.coolantMeter.setAttribute("aria-valuetext", words);
    }
  }

  /** @param {Readings} readings */
  showEar(readings) {
    this.setOff = readings.on_road ? (this.setOff ?? readings.time_s) : null;
    const running =
      this.setOff !== null
        ? `On the road, ${minutesAndSeconds(readings.time_s - this.setOff)}`
        : readings.cranking
          ? "Cranking"
          : readings.running
            ? "Running"
            : "Engine stopped";
    setText(this.state, running);
    this.state.classList.toggle("eb-running", readings.running || readings.cranking);
    setText(this.idleWords, readings.idle_words || "nothing");
    setText(this.pingWords, readings.ping_words || "not under load");
    this.pingFill.style.width = `${readings.ping_level * 100}%`;
  }

  /** @param {OrEmpty<SaidOfControl>} said */
  showSaid(said) {
    const marked = KINDS[said.kind ?? ""] ?? "";
    this.message.dataset.kind = said.kind ?? "";
    this.message.dataset.number = String(said.number ?? 0);
    const plain =
      said.sentence || `Work down the list on the bench, from 1 to ${this.model.get("work").length}.`;
    const sentence = marked ? plain.replace(/^Stopped: (.)/, (_, first) => first.toUpperCase()) : plain;
    this.message.replaceChildren(...(marked ? [element("strong", {}, `${marked} `)] : []), sentence);
    for (const echo of this.echoes()) echo.hidden = true;
    if (said.kind && marked) this.echo(said, marked, sentence);
  }

  /** @returns {NodeListOf<HTMLElement>} */
  echoes() {
    return this.root.querySelectorAll(".eb-echo");
  }

  // Said again beside the hand that asked: the message line may be out of sight.
  /**
   * @param {SaidOfControl} said
   * @param {string} marked
   * @param {string} sentence
   */
  echo(said, marked, sentence) {
    const group = this.root
      .querySelector(`[data-control="${CSS.escape(said.control || "none")}"]`)
      ?.closest("fieldset");
    const echo = /** @type {HTMLElement | null | undefined} */ (group?.querySelector(".eb-echo"));
    if (!echo) return;
    echo.replaceChildren(element("strong", {}, `${marked} `), sentence);
    echo.dataset.kind = said.kind;
    echo.hidden = false;
  }

  /** @param {string} sentence */
  showProblem(sentence) {
    setText(this.problem, sentence);
    this.problem.hidden = !sentence;
    const empty = Boolean(sentence) && this.model.get("readings").time_s === undefined;
    this.body.hidden = this.foot.hidden = empty;
  }

  /**
   * @template {keyof UnitChoice} Key
   * @param {Key} key
   * @param {UnitChoice[Key]} unit
   * @param {Element} pressed
   */
  setUnit(key, unit, pressed) {
    this.units[key] = unit;
    storeChoice(this.units);
    for (const button of pressed.parentElement?.children ?? [])
      button.setAttribute("aria-pressed", String(button === pressed));
    this.rescale();
    if (this.latestReadings) this.showReadings(this.latestReadings);
  }

  rescale() {
    const { top, major, minor, of } = quantity(this.units.vacuum);
    this.vacuum.setScale(top, major, minor);
    this.vacuum.setChalk(this.chalkedVacuum === undefined ? null : of(this.chalkedVacuum));
    if (this.fast) this.speed.setScale(6000, 1000, 250);
    else this.speed.setScale(FAST_TOP, 250, 25);
    this.strip.setUnit(this.units.vacuum, of);
  }

  // A chalk mark where each needle stands, as a mechanic leaves one on the glass.
  markNeedles() {
    const { speed_rpm: speed, vacuum_inhg: vacuum } = this.latestReadings ?? {};
    if (speed !== null && speed !== undefined) this.speed.setChalk(speed);
    if (vacuum !== null && vacuum !== undefined) this.chalkedVacuum = vacuum;
    this.rescale();
    if (this.latestReadings) this.showReadings(this.latestReadings);
    this.message.dataset.kind = "done";
    this.message.replaceChildren(
      `Chalk marks: tachometer ${speedInWords(speed)}, vacuum ${inWords(vacuum, this.units.vacuum)}.`,
    );
  }
}

export default { initialize: hear, render };
