// The one way an element is made: no innerHTML, no style attribute (the page's policy refuses both).

const SVG = "http://www.w3.org/2000/svg";

/**
 * An HTML element. `on…` keys are listeners, `data` an object of data- attributes, true an empty
 * attribute; null, undefined and false are left out. Children are nodes, texts, lists of them, or nothing.
 */
export function el(tag, attrs = {}, ...children) {
  return dressed(document.createElement(tag), attrs, children);
}

/** The same for a picture's parts. */
export function svg(tag, attrs = {}, ...children) {
  return dressed(document.createElementNS(SVG, tag), attrs, children);
}

/** Replaces everything inside `parent`. */
export function fill(parent, ...children) {
  parent.replaceChildren(...children.flat(Infinity).filter(isThere));
  return parent;
}

/** Sets one style by script: the CSS object model is allowed, a style attribute is not. */
export function set(node, property, value) {
  node.style.setProperty(property, value);
  return node;
}

function dressed(node, attrs, children) {
  for (const [name, value] of Object.entries(attrs ?? {})) put(node, name, value);
  node.append(...children.flat(Infinity).filter(isThere));
  return node;
}

function put(node, name, value) {
  if (value === null || value === undefined || value === false) return;
  if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
  else if (name === "data") Object.assign(node.dataset, value);
  else if (value === true) node.setAttribute(name, "");
  else node.setAttribute(name, String(value));
}

function isThere(child) {
  return child !== null && child !== undefined && child !== false;
}
