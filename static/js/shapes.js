// The drawn shapes with their handles, as SVG. Knows nothing of pointers and keys.

import { shownCorners } from "./rings.js";

const SVG = "http://www.w3.org/2000/svg";
export const NAMES = { outer: "Outline", hole: "Hole", zone: "Zone that can't be judged", ruler: "Scale line" };
const HANDLE_GAP_PX = 24, DOT_PX = 7, HIT_PX = 20;

function element(name, attributes, children = []) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

const points = (ring) => ring.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");

/** All rings of a state as {kind, number, ring}; the scale line counts as one of two corners. */
export function ringsOf(state) {
  return ["zone", "outer", "hole", "ruler"].flatMap((kind) =>
    state[kind].map((ring, number) => ({ kind, number, ring })));
}

/** Draw the state into `group`; `active` names the corner that has the keys: {kind, number, index}. */
export function drawShapes(group, state, scale, active, draft) {
  const lines = [], handles = [];
  for (const { kind, number, ring } of ringsOf(state)) {
    const isActive = active?.kind === kind && active.number === number;
    const line = kind === "ruler" ? "polyline" : "polygon";
    lines.push(element(line, { class: `shape casing ${kind}`, points: points(ring) }));
    lines.push(element(line, { class: `shape ${kind}${isActive ? " active" : ""}`, points: points(ring) }));
    const shown = shownCorners(ring, HANDLE_GAP_PX / scale, isActive ? active.index : -1);
    const tabStop = isActive ? active.index : shown[0];
    for (const index of shown) handles.push(handle(kind, number, ring, index, index === tabStop, isActive && index === active.index, scale));
  }
  if (draft) lines.push(...drawDraft(draft, scale));
  group.replaceChildren(...lines, ...handles);
}

function handle(kind, number, ring, index, isTabStop, isActive, scale) {
  const [x, y] = ring[index];
  const name = kind === "outer" || kind === "ruler" ? NAMES[kind] : `${NAMES[kind]} ${number + 1}`;
  const part = kind === "ruler" ? "end" : "corner";
  const attributes = {
    class: `handle ${kind}${isActive ? " active" : ""}`, tabindex: isTabStop ? 0 : -1, role: "button",
    "data-kind": kind, "data-number": number, "data-index": index,
    "aria-roledescription": part,
    "aria-label": `${name}, ${part} ${index + 1} of ${ring.length}, x ${x.toFixed(0)}, y ${y.toFixed(0)}`,
    transform: `translate(${x.toFixed(2)} ${y.toFixed(2)})`,
  };
  return element("g", attributes, [
    element("circle", { class: "hit", r: HIT_PX / scale }),
    element("circle", { class: "dot", r: DOT_PX / scale }),
  ]);
}

function drawDraft(draft, scale) {
  const ring = draft.cross ? [...draft.corners, draft.cross] : draft.corners;
  const parts = [
    element("polyline", { class: "shape casing draft", points: points(ring) }),
    element("polyline", { class: "shape draft", points: points(ring) }),
  ];
  for (const [x, y] of draft.corners) parts.push(element("circle", { class: "draft-dot", cx: x, cy: y, r: 5 / scale }));
  if (draft.cross) {
    const [x, y] = draft.cross, arm = 14 / scale;
    parts.push(element("path", { class: "cross casing", d: `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}` }));
    parts.push(element("path", { class: "cross", d: `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}` }));
  }
  return parts;
}
