// Draws the cross of the enlarged view and the dots of the small one, both in px of the photo.

const SVG = "http://www.w3.org/2000/svg";

const draw = (name, attributes) => {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
};

/** The cross stays open around the point: what lies under it has to be seen. */
export function showPoint(svg, [x, y], window) {
  const gap = window / 16, reach = window / 2, far = window * 2;  // the view may be wider than the window
  const d = `M${x - far} ${y}H${x - gap}M${x + gap} ${y}H${x + far}M${x} ${y - far}V${y - gap}M${x} ${y + gap}V${y + far}`;
  svg.setAttribute("viewBox", `${x - reach} ${y - reach} ${window} ${window}`);
  svg.querySelector("[data-cross]").replaceChildren(
    draw("path", { class: "cross under", d }), draw("path", { class: "cross", d }), draw("circle", { class: "spot", cx: x, cy: y, r: window / 160 }),
  );
}

/** A dot for each point of the present field, full once it is judged; a ring around the present point. */
export function showWhole(svg, points, codes, fields, now) {
  const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
  const r = Math.max(width, height) / 130;
  const members = points.map((point, number) => number).filter((number) => fields[number] === fields[now]);
  const dots = members.map((number) => draw("circle", { class: codes[number] ? "dot judged" : "dot", cx: points[number][0], cy: points[number][1], r }));
  const [cx, cy] = points[now];
  svg.querySelector("[data-dots]").replaceChildren(...dots, draw("circle", { class: "here", cx, cy, r: r * 3 }));
}
