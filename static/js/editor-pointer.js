// Mouse, pen and fingers on the editor's canvas: drag corners, draw, pan, pinch, wheel.

import { nearestOnRing } from "./rings.js";
import { ringsOf } from "./shapes.js";

const REACH_PX = 24, SLIP_PX = 6;

export function attachPointer(editor) {
  const { svg, view } = editor;
  const down = new Map();
  let drag = null;

  svg.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    down.set(event.pointerId, event);
    svg.setPointerCapture(event.pointerId);
    if (down.size === 2) { drag = { pinch: spread(down) }; return; }
    drag = begin(editor, event);
    if (drag.corner) event.preventDefault();
  });

  svg.addEventListener("pointermove", (event) => {
    if (!down.has(event.pointerId) || !drag) return;
    const before = down.get(event.pointerId);
    const [x, y] = view.place(event), [oldX, oldY] = view.place(before);
    down.set(event.pointerId, event);
    if (drag.pinch) { pinch(editor, down, drag); return; }
    drag.slipped ||= Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > SLIP_PX;
    if (!drag.slipped) return;
    if (drag.corner) {
      // The first move makes up for what was held back while it could still be a press.
      const from = drag.from ?? [oldX, oldY];
      drag.from = null;
      editor.moveActive(x - from[0], y - from[1], false);
    } else {
      view.pan(x - oldX, y - oldY);
      editor.draw();
    }
  });

  const up = (event) => {
    if (!down.delete(event.pointerId) || !drag) return;
    if (drag.pinch) { if (!down.size) drag = null; return; }
    const gesture = drag;
    drag = null;
    if (gesture.corner) { editor.changed(); editor.activeHandle()?.focus({ preventScroll: true }); return; }
    if (!gesture.slipped && event.type === "pointerup" && editor.draws) editor.addToDraft(view.place(event));
  };
  svg.addEventListener("pointerup", up);
  svg.addEventListener("pointercancel", up);

  svg.addEventListener("wheel", (event) => {
    // Only with Ctrl, as pinching on a touchpad sends: a plain wheel scrolls the page, or enlarges once inside.
    if (!event.ctrlKey && view.isWhole) return;
    event.preventDefault();
    editor.zoom(Math.exp(-event.deltaY / 300), view.place(event));
  }, { passive: false });

  svg.addEventListener("dblclick", (event) => {
    if (editor.tool === "move") insertAt(editor, view.place(event)) && editor.changed();
  });
}

function begin(editor, event) {
  const start = { x: event.clientX, y: event.clientY, from: editor.view.place(event) };
  const handle = event.target.closest?.(".handle");
  if (handle && !editor.draws) {
    editor.activate(handle.dataset.kind, Number(handle.dataset.number), Number(handle.dataset.index));
    editor.activeHandle()?.focus({ preventScroll: true });
    return { ...start, corner: true };
  }
  if (editor.tool === "add" && insertAt(editor, start.from)) {
    editor.changed(false);
    return { ...start, corner: true };
  }
  if (editor.tool === "ruler") {
    editor.state.ruler = [[editor.keepInside([...start.from]), editor.keepInside([...start.from])]];
    editor.active = { kind: "ruler", number: 0, index: 1 };
    return { ...start, corner: true };
  }
  return start;
}

function insertAt(editor, place) {
  const near = ringsOf(editor.state)
    .filter(({ kind }) => kind !== "ruler")
    .map(({ kind, number, ring }) => ({ kind, number, ...nearestOnRing(ring, place) }))
    .sort((one, other) => one.distance - other.distance)[0];
  if (!near || near.distance > REACH_PX / editor.view.scale) return false;
  editor.insertAfter(near.kind, near.number, near.after, near.place);
  return true;
}

function spread(down) {
  const [one, other] = [...down.values()];
  return { x: (one.clientX + other.clientX) / 2, y: (one.clientY + other.clientY) / 2, apart: Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY) };
}

function pinch(editor, down, drag) {
  if (down.size < 2) return;
  const before = drag.pinch, after = spread(down), { view } = editor;
  const [x, y] = view.place({ clientX: after.x, clientY: after.y }), [oldX, oldY] = view.place({ clientX: before.x, clientY: before.y });
  view.pan(x - oldX, y - oldY);
  editor.zoom(after.apart / (before.apart || 1), view.place({ clientX: after.x, clientY: after.y }));
  drag.pinch = after;
}
