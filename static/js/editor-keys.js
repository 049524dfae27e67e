// The keyboard in the editor: move and step through corners, draw with a cross, enlarge, undo.

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const FAR = 10;

export function attachKeys(editor) {
  editor.svg.addEventListener("focusin", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle) return;
    const { kind, number, index } = handle.dataset;
    const is = editor.active;
    if (is?.kind === kind && is.number === Number(number) && is.index === Number(index)) return;
    editor.active = { kind, number: Number(number), index: Number(index) };
    editor.draw();
  });
  editor.svg.addEventListener("keydown", (event) => {
    if (event.altKey || event.metaKey) return;
    const onHandle = event.target.closest(".handle");
    const used = event.ctrlKey ? undoKeys(editor, event) : (onHandle && !editor.draws ? cornerKeys(editor, event) : photoKeys(editor, event)) || viewKeys(editor, event);
    if (used) { event.preventDefault(); event.stopPropagation(); }
  });
}

function undoKeys(editor, event) {
  const by = { z: event.shiftKey ? 1 : -1, Z: 1, y: 1 }[event.key];
  if (by) editor.go(by);
  return Boolean(by);
}

function cornerKeys(editor, event) {
  const arrow = ARROWS[event.key], far = event.shiftKey ? FAR : 1;
  if (arrow) { editor.moveActive(arrow[0] * far, arrow[1] * far); editor.view.reveal(editor.activeRing[editor.active.index]); return true; }
  const action = {
    n: () => editor.step(1), p: () => editor.step(-1), a: () => editor.addAfterActive(),
    delete: () => editor.removeCorner(), backspace: () => editor.removeCorner(),
    escape: () => editor.svg.focus(),
  }[event.key.toLowerCase()];
  action?.();
  return Boolean(action);
}

function photoKeys(editor, event) {
  if (editor.draws) return drawKeys(editor, event);
  const arrow = ARROWS[event.key];
  if (!arrow || editor.view.isWhole) return false;
  const step = editor.view.box.w / 10;
  editor.view.pan(-arrow[0] * step, -arrow[1] * step);
  editor.draw();
  return true;
}

function drawKeys(editor, event) {
  const arrow = ARROWS[event.key];
  if (!arrow && ![" ", "Enter", "Escape", "Backspace"].includes(event.key)) return false;
  if (event.key === "Escape") { editor.giveUpDraft(); return true; }
  if (event.key === "Enter") { editor.closeDraft(); return true; }
  editor.draft ??= { corners: [], cross: null };
  editor.draft.cross ??= [...(editor.draft.corners.at(-1) ?? editor.view.centre)];
  if (arrow) {
    // Steps on the screen, not in the photo: a phone photo has thousands of pixels a side.
    const step = (event.shiftKey ? 30 : 3) / editor.view.scale;
    editor.draft.cross = editor.keepInside([editor.draft.cross[0] + arrow[0] * step, editor.draft.cross[1] + arrow[1] * step]);
    editor.view.reveal(editor.draft.cross);
    editor.say(`x ${editor.draft.cross[0].toFixed(0)}, y ${editor.draft.cross[1].toFixed(0)}`);
  } else if (event.key === " ") editor.addToDraft(editor.draft.cross);
  else editor.draft.corners.pop();
  editor.draw();
  return true;
}

function viewKeys(editor, event) {
  const action = { "+": () => editor.zoom(1.6), "=": () => editor.zoom(1.6), "-": () => editor.zoom(1 / 1.6), 0: () => { editor.view.fit(); editor.draw(); } }[event.key];
  action?.();
  return Boolean(action);
}
