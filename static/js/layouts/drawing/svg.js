// Making the parts of a picture.

const SVG = "http://www.w3.org/2000/svg";

export function made(name, attributes = {}, ...inside) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...inside);
  return element;
}

// A straight line between two places, y upwards.
export const line = (name, [x0, y0, x1, y1]) => made("path", { class: name, d: `M${x0} ${-y0}L${x1} ${-y1}` });

// What is inside keeps its size on the screen however near one looks; it is laid out in pixels
// about a place (y upwards).
export function sized([x, y], ...inside) {
  return made("g", { transform: `translate(${x} ${-y})` }, made("g", { class: "laying-sized" }, ...inside));
}
