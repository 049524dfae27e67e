// Shapes as text and as lists of corners [x, y] in px of the upright photo, pixel centres at whole numbers.

/** Read shapes: one corner a line, an empty line between shapes. Lines that are no corner are left out. */
export function readRings(text) {
  const rings = [[]];
  for (const line of text.split(/\r?\n|;/)) {
    if (!line.trim()) { rings.push([]); continue; }
    const [x, y, more] = line.replaceAll(",", " ").trim().split(/\s+/).map(Number);
    if (more === undefined && Number.isFinite(x) && Number.isFinite(y)) rings.at(-1).push([x, y]);
  }
  return rings.filter((ring) => ring.length);
}

/** Write shapes as `readRings` reads them. */
export function writeRings(rings) {
  return rings.map((ring) => ring.map(([x, y]) => `${x.toFixed(1)}, ${y.toFixed(1)}`).join("\n")).join("\n\n");
}

/** The place on the ring's line that is nearest to a point: {distance, after, place}. */
export function nearestOnRing(ring, [x, y]) {
  let best = { distance: Infinity };
  ring.forEach(([ax, ay], after) => {
    const [bx, by] = ring[(after + 1) % ring.length];
    const squared = (bx - ax) ** 2 + (by - ay) ** 2;
    const along = squared ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / squared)) : 0;
    const place = [ax + along * (bx - ax), ay + along * (by - ay)];
    const distance = Math.hypot(place[0] - x, place[1] - y);
    if (distance < best.distance) best = { distance, after, place };
  });
  return best;
}

/** Which corners to show so that none lies nearer than `gap` to the one shown before it; `always` is shown anyway. */
export function shownCorners(ring, gap, always) {
  const shown = [];
  ring.forEach((corner, index) => {
    const before = shown.length ? ring[shown.at(-1)] : null;
    if (!before || index === always || Math.hypot(corner[0] - before[0], corner[1] - before[1]) >= gap) shown.push(index);
  });
  return shown;
}

/** Move a shown corner; the ones that are hidden between it and its shown neighbours follow in proportion. */
export function moveCorner(ring, shown, index, dx, dy) {
  const count = ring.length, at = shown.indexOf(index);
  const before = shown[(at - 1 + shown.length) % shown.length], after = shown[(at + 1) % shown.length];
  const reach = { back: (index - before + count) % count || count, on: (after - index + count) % count || count };
  for (let step = -reach.back + 1; step < reach.on; step += 1) {
    const weight = step < 0 ? 1 + step / reach.back : 1 - step / reach.on;
    const corner = ring[(index + step + count) % count];
    corner[0] += dx * weight;
    corner[1] += dy * weight;
  }
}
