// A lesson's picture: title, drawing, and the same in words. The drawing comes from the course's own pictures, once for a
// page and once for a phone; the style sheet shows the one that fits.

import { element, freshId } from "../shared/elements.js";

/**
 * @import { View } from "../types.d.ts"
 *
 * @typedef {View<{ title: string, svg: string, narrow: string, words: string, problem: string }>} PictureCard
 */

/** @param {PictureCard} view */
function render({ model, el }) {
  const problem = model.get("problem");
  const id = freshId("cp-title");
  el.replaceChildren(
    element(
      "figure",
      { class: "course-form course-picture", "aria-labelledby": id },
      element("figcaption", { class: "cf-heading", id }, model.get("title")),
      ...(problem
        ? [element("p", { class: "cf-problem" }, problem)]
        : [drawn(model, "svg", "cp-wide"), drawn(model, "narrow", "cp-narrow"), inWords(model)]),
    ),
  );
}

// The drawing is read as an image and its parts stay out of the way of a screen reader, which has the words.
/**
 * @param {PictureCard["model"]} model
 * @param {"svg" | "narrow"} of
 * @param {string} size
 */
function drawn(model, of, size) {
  const read = new DOMParser().parseFromString(model.get(of), "image/svg+xml");
  const root = document.importNode(read.documentElement, true);
  for (const name of ["width", "height"]) root.removeAttribute(name);
  root.setAttribute("role", "img");
  root.setAttribute("aria-label", `${model.get("title")}: the picture. What it shows stands below in words.`);
  root.setAttribute("focusable", "false");
  for (const part of root.children) part.setAttribute("aria-hidden", "true");
  return element("div", { class: `cp-drawing ${size}` }, root);
}

/** @param {PictureCard["model"]} model */
function inWords(model) {
  const paragraphs = model.get("words").split("\n\n");
  return element(
    "details",
    { class: "cp-words" },
    element("summary", { "data-lm-suppress-shortcuts": "true" }, "The picture in words"),
    ...paragraphs.map((text) => element("p", {}, text)),
  );
}

export default { render };
