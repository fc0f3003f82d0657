// Small makers of elements. Text from data always goes in as text, never as markup.

/** @import { Attributes, Child } from "../types.d.ts" */

const SVG = "http://www.w3.org/2000/svg";

// One element with attributes and children (elements or text); `on` holds event listeners by name.
/**
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Attributes<HTMLElementTagNameMap[Tag]>} attributes
 * @param {...Child} children
 */
export function element(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/**
 * @template {keyof SVGElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Attributes<SVGElementTagNameMap[Tag]>} attributes
 * @param {...Child} children
 */
export function drawing(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

/**
 * @template {Element} Made
 * @param {Made} node
 * @param {Attributes<Made>} attributes
 * @param {Child[]} children
 */
function filled(node, { on = {}, ...attributes }, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false)
      node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const [name, listener] of Object.entries(on))
    node.addEventListener(name, /** @type {EventListener} */ (listener));
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

// JupyterLab's one-letter commands stay off only where the focused element itself says so.
export const HANDS_OFF = { "data-lm-suppress-shortcuts": "true" };

/**
 * @param {string} text
 * @param {(event: MouseEvent & { currentTarget: HTMLButtonElement, target: Element }) => void} press
 * @param {Attributes<HTMLButtonElement>} attributes
 */
export function pushButton(text, press, attributes = {}) {
  return element("button", { type: "button", ...HANDS_OFF, ...attributes, on: { click: press } }, text);
}

/**
 * @param {Element} node
 * @param {string} text
 */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/**
 * @param {Element} node
 * @param {string} name
 * @param {string | number} value
 */
export function setAttribute(node, name, value) {
  if (node.getAttribute(name) !== String(value)) node.setAttribute(name, String(value));
}

// Bring a sentence and what stands below it into view; the sentence first, where there is no room for both.
/**
 * @param {Element} sentence
 * @param {Element} below
 */
export function inView(sentence, below) {
  requestAnimationFrame(() => {
    for (const node of [below, sentence]) node.scrollIntoView({ block: "nearest" });
  });
}

let lastId = 0;

/** @param {string} stem */
export function freshId(stem) {
  lastId += 1;
  return `${stem}-${lastId}-${Math.random().toString(36).slice(2, 8)}`;
}

// Enter in a field does what its button does, and sends no form.
/**
 * @param {KeyboardEvent} event
 * @param {() => void} act
 */
export function onEnter(event, act) {
  if (event.key !== "Enter") return;
  event.preventDefault();
  act();
}
