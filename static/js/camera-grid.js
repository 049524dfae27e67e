// The grid over the live picture, and the frame in its middle in which the sharpness is judged.

const NAMESPACE = "http://www.w3.org/2000/svg", CELLS = 8, FRAME_PX = [480, 360];

/** The middle of a picture, as [x, y, width, height] in px. */
export function focusFrame(width, height) {
  const [w, h] = [Math.min(FRAME_PX[0], width), Math.min(FRAME_PX[1], height)];
  return [Math.floor((width - w) / 2), Math.floor((height - h) / 2), w, h];
}

/** Draw square cells from the middle outwards, the middle lines stronger, and the frame. */
export function drawGrid(svg, width, height) {
  const cell = Math.max(width, height) / CELLS, lines = [];
  for (let n = 0; n * cell < width / 2; n += 1) for (const x of new Set([width / 2 - n * cell, width / 2 + n * cell])) lines.push([n, x, 0, x, height]);
  for (let n = 0; n * cell < height / 2; n += 1) for (const y of new Set([height / 2 - n * cell, height / 2 + n * cell])) lines.push([n, 0, y, width, y]);
  const [x, y, w, h] = focusFrame(width, height);
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren(...lines.flatMap(([n, x1, y1, x2, y2]) => cased("line", n ? "cell" : "middle", { x1, y1, x2, y2 })), ...cased("rect", "frame", { x, y, width: w, height: h }));
}

/** Each line twice, dark below light, so that it shows on any face. */
function cased(kind, name, where) {
  return [`${name} casing`, name].map((classes) => {
    const made = document.createElementNS(NAMESPACE, kind);
    made.setAttribute("class", classes);
    for (const [key, value] of Object.entries(where)) made.setAttribute(key, value);
    return made;
  });
}
