// Small makers of elements. Text from data always goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

// One element with attributes and children (elements or text); `on` holds event listeners by name.
export function element(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

export function drawing(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

function filled(node, { on = {}, ...attributes }, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false)
      node.setAttribute(name, value === true ? "" : value);
  }
  for (const [name, listener] of Object.entries(on)) node.addEventListener(name, listener);
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

// JupyterLab's one-letter commands stay off only where the focused element itself says so.
export const HANDS_OFF = { "data-lm-suppress-shortcuts": "true" };

export function pushButton(text, press, attributes = {}) {
  return element("button", { type: "button", ...HANDS_OFF, ...attributes, on: { click: press } }, text);
}

export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function setAttribute(node, name, value) {
  if (node.getAttribute(name) !== String(value)) node.setAttribute(name, value);
}

let lastId = 0;

export function freshId(stem) {
  lastId += 1;
  return `${stem}-${lastId}-${Math.random().toString(36).slice(2, 8)}`;
}

// Enter in a field does what its button does, and sends no form.
export function onEnter(event, act) {
  if (event.key !== "Enter") return;
  event.preventDefault();
  act();
}
