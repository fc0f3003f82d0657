// An engine of one's own: entries by group, what follows from them, and where the sheet to print lies.

import { HANDS_OFF, element, freshId, onEnter } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Measured, Written } from "../types.d.ts"
 *
 * @typedef {object} Entry
 * @property {string} id
 * @property {string} group
 * @property {string} label
 * @property {string} help
 * @property {string[]} units
 * @property {string[]} choices
 *
 * @typedef {object} Traits
 * @property {Entry[]} entries
 * @property {{ title: string, text: string, basis: string }[]} told
 * @property {string} first
 * @property {string} sheet
 *
 * @typedef {Measured | string | null} Given
 * @typedef {{ value: Record<string, Written | string | null> }} Answer
 * @typedef {Form<Traits, { value: Record<string, Given> }, Answer>} EngineCardForm
 */

const TOLD = /** @type {const} */ (["change:told", "change:sheet"]);

/** @param {EngineCardForm} view */
function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, send) => new EngineCardWork(model, send, gone.signal), {
    press: "Record and write the sheet",
  });
  return () => {
    gone.abort();
    leave();
  };
}

class EngineCardWork {
  /**
   * @param {EngineCardForm["model"]} model
   * @param {() => void} send
   * @param {AbortSignal} gone
   */
  constructor(model, send, gone) {
    this.model = model;
    this.given = model.get("answer").value ?? {};
    this.lines = model.get("entries").map((entry) => entryLine(entry, this.given[entry.id] ?? null, send));
    this.told = element("dl", { class: "cf-told" });
    this.sheet = element("p", { class: "cf-sheet-place", role: "status", "aria-live": "polite" });
    const groups = [...new Set(model.get("entries").map(({ group }) => group))];
    this.root = element(
      "div",
      {},
      element("p", {}, element("strong", {}, model.get("first"))),
      ...groups.map((group) => this.group(group)),
      this.told,
      this.sheet,
    );
    const listener = () => this.show();
    for (const event of TOLD) model.on(event, listener);
    gone.addEventListener("abort", () => {
      for (const event of TOLD) model.off(event, listener);
    });
    this.show();
  }

  /** @param {string} name */
  group(name) {
    const lines = this.lines.filter(({ group }) => group === name);
    return element(
      "fieldset",
      { class: "cf-entries" },
      element("legend", {}, name),
      ...lines.map(({ root }) => root),
    );
  }

  value() {
    return { value: Object.fromEntries(this.lines.map(({ id, value }) => [id, value()])) };
  }

  show() {
    this.told.replaceChildren(
      ...this.model
        .get("told")
        .flatMap(({ title, text, basis }) => [
          element("dt", {}, title),
          element("dd", {}, `${text} `, element("span", { class: "cf-basis" }, `(${basis})`)),
        ]),
    );
    const sheet = this.model.get("sheet");
    this.sheet.textContent = sheet
      ? `Your sheet is ready to print: open ${sheet} in the folder of this lesson.`
      : "";
  }
}

/**
 * @param {Entry} entry
 * @param {Given} given
 * @param {() => void} send
 */
function entryLine({ id, group, label, help, units, choices }, given, send) {
  const name = freshId("cf-entry"),
    hint = freshId("cf-entry-help");
  const field = choices.length
    ? element(
        "select",
        { ...HANDS_OFF, id: name, "aria-describedby": hint },
        element("option", { value: "" }, "not known"),
        ...choices.map((text) => element("option", { value: text, selected: text === given }, text)),
      )
    : element("input", {
        ...HANDS_OFF,
        id: name,
        type: "text",
        inputmode: "decimal",
        autocomplete: "off",
        "aria-describedby": hint,
        value: given ? String(given[0]) : "",
        on: { keydown: (event) => onEnter(event, send) },
      });
  const unitName = freshId("cf-entry-unit");
  const unit =
    units.length > 1
      ? element(
          "select",
          { ...HANDS_OFF, id: unitName },
          ...units.map((text) => element("option", { value: text, selected: text === given?.[1] }, text)),
        )
      : null;
  const root = element(
    "div",
    { class: "cf-entry", "data-entry": id },
    element("label", { for: name }, label),
    element(
      "span",
      { class: "cf-entry-value" },
      field,
      unit ? element("label", { for: unitName, class: "cf-hidden" }, `Unit of ${label}`) : null,
      unit ?? element("span", { class: "cf-unit" }, units[0] ?? ""),
    ),
    element("span", { class: "cf-hint", id: hint }, help),
  );
  const value = () =>
    choices.length ? field.value || null : { text: field.value, unit: unit ? unit.value : units[0] };
  return { id, group, root, value };
}

export default { initialize: hear, render };
