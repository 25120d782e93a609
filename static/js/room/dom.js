// Making elements without markup strings, so that no name typed by a person can become markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return element;
}

/** make("button", { type: "button", onclick: go }, "Go"); attributes that are null are left out. */
export const make = (tag, attributes = {}, ...children) =>
  fill(document.createElement(tag), attributes, children);

export const makeSvg = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS(SVG, tag), attributes, children);

export const byId = (id) => document.getElementById(id);

/** The chip with a kind's two letters; the family shows by the line below them as well. */
export function chip(code, pattern) {
  return make("span", { class: `chip chip--${pattern}` }, code);
}
