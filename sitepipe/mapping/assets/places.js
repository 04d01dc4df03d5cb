// Names and numbers: where they stand, so that none hides another and none is cut off.

const RING = 13;
const APART = 44;

function boxAround(x, y, width, height) {
  return [x - width / 2, y - height / 2, x + width / 2, y + height / 2];
}

function overlaps(a, b, room) {
  return a[0] < b[2] + room && a[2] > b[0] - room && a[1] < b[3] + room && a[3] > b[1] - room;
}

function makeTable(view, fixed) {
  const [width, height] = view.size;
  const boxes = fixed.slice();
  const frame = [3, view.top, width - 3, height - view.bottom];
  return {
    boxes,
    fits: (box) => box[0] >= frame[0] && box[1] >= frame[1] && box[2] <= frame[2] && box[3] <= frame[3],
    isFree: (box, room) => !boxes.some((other) => overlaps(box, other, room)),
    isSeen: (x, y) => x > 0 && y > 0 && x < width && y < height,
    take: (box) => boxes.push(box),
  };
}

// Names of what stands there. Returns them placed, in container pixels.
function placeNames(data, question, view, table, measure) {
  const wanted = [];
  const largest = Math.max(0, ...data.standing.filter((m) => m.mark === 'building').map((m) => ringSize(m.area[0][0])));
  for (const mark of data.standing.concat(question.marks)) {
    if (!mark.name || mark.mark === 'boundary') continue;
    if (!view.isClose) {
      if (!SHORT_NAMES.has(mark.mark)) continue;
      if (mark.mark === 'building' && ringSize(mark.area[0][0]) < 0.6 * largest) continue;
    }
    wanted.push(mark);
  }
  const order = ['building', 'keep-clear', 'gate', 'tap', 'well', 'culvert', 'road'];
  wanted.sort((a, b) => (order.indexOf(a.mark) + 99) % 99 - (order.indexOf(b.mark) + 99) % 99);
  const placed = [];
  for (const mark of wanted) {
    const text = mark.name.length > 18 ? mark.name.slice(0, 17) + '…' : mark.name;
    const kind = mark.mark === 'road' ? 'name road-name' : isGrown(mark) ? 'name grown' : 'name';
    const width = measure(text, kind);
    for (const [x, y, turn] of nameSpots(mark, view, width)) {
      const box = turn ? boxAround(x, y, 19, width) : boxAround(x, y, width, 19);
      if (table.fits(box) && table.isFree(box, 2)) {
        table.take(box);
        placed.push({ text, x, y, turn, kind });
        break;
      }
    }
  }
  return placed;
}

function isGrown(mark) {
  return mark.mark === 'tree' || mark.mark === 'crowns' || mark.mark === 'hedge' || mark.mark === 'open-water';
}

function ringSize(flat) {
  const points = [];
  for (let k = 0; k < flat.length; k += 2) points.push([flat[k], flat[k + 1]]);
  return Math.abs(signedArea(points));
}

function nameSpots(mark, view, width) {
  const onScreen = (p) => [p[0] + view.pane[0], p[1] + view.pane[1]];
  const around = (x, y, dx, dy) => [
    [x + dx + width / 2, y], [x, y + dy], [x, y - dy], [x - dx - width / 2, y],
    [x + dx + width / 2, y + dy * 0.8], [x - dx - width / 2, y + dy * 0.8], [x + dx + width / 2, y - dy * 0.8],
  ];
  if (mark.mark === 'building' || mark.mark === 'keep-clear' || mark.mark === 'bed') {
    const points = pixels(mark.area[0][0], view).map(onScreen);
    const xs = points.map((p) => p[0]);
    const ys = points.map((p) => p[1]);
    const [w, e, n, s] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const inside = e - w > width + 4 && s - n > 22 ? [[(w + e) / 2, n + Math.min((s - n) * 0.5, (e - w) * 0.34)]] : [];
    if (mark.mark === 'keep-clear') inside.splice(0, 1, [(w + e) / 2, (n + s) / 2]);
    return inside.concat([[(w + e) / 2, n - 12], [(w + e) / 2, s + 12], [e + 6 + width / 2, (n + s) / 2], [w - 6 - width / 2, (n + s) / 2]]);
  }
  if (mark.at) {
    const [x, y] = onScreen(view.to(mark.at[0], mark.at[1]));
    if (mark.mark === 'tree') {
      const radius = mark.radius * view.scale;
      return radius * 2 > width + 6 ? [[x, y - 13], [x, y + 15]] : around(x, y, radius + 4, radius + 11);
    }
    return around(x, y, 10, 17);
  }
  const lines = mark.line && mark.line.length ? mark.line : mark.area[0];
  const points = pixels(mark.along || lines[0], view).map(onScreen);
  const long = lengthOf(points);
  if (mark.mark === 'gate') {
    const spot = placesAlong(points, [long / 2])[0];
    return [[spot.x - width / 2 - 6, spot.y + 19], [spot.x, spot.y + 20], [spot.x + width / 2 + 8, spot.y + 19], [spot.x, spot.y - 18]];
  }
  if (mark.mark === 'culvert') {
    return placesAlong(points, [0.75, 0.5, 0.25, 1].map((share) => share * long)).flatMap((spot) => [
      [spot.x + 14 + width / 2, spot.y], [spot.x - 14 - width / 2, spot.y],
    ]);
  }
  if (mark.mark === 'road') {
    const middle = view.size[0] / 2;
    return placesAlong(points, steps(0, long, 12)).map((spot) => [spot.x, spot.y])
      .sort((a, b) => Math.abs(a[0] - middle) - Math.abs(b[0] - middle));
  }
  return placesAlong(points, [0.5, 0.35, 0.65, 0.2, 0.8].map((share) => share * long)).flatMap((spot) => {
    if (Math.abs(spot.dy) > 0.9) return [[spot.x - 15, spot.y, true], [spot.x + 15, spot.y, true]];
    return [[spot.x, spot.y - 15], [spot.x, spot.y + 15], [spot.x + 12 + width / 2, spot.y], [spot.x - 12 - width / 2, spot.y]];
  });
}

// Rings: alone on a long thing, beside a small one on a leader, bracketed where a group is crowded.
function placeRings(places, view, table, busy) {
  const shown = places.filter((place) => place.at).map((place) => {
    const p = view.to(place.at[0], place.at[1]);
    return { place, x: p[0] + view.pane[0], y: p[1] + view.pane[1] };
  }).filter((one) => table.isSeen(one.x, one.y));
  const groups = crowded(shown, view);
  const placed = [];
  const alone = [];
  for (const members of groups) {
    if (members.length > 1) placeBracket(members, view, table, placed);
    else alone.push(members[0]);
  }
  const sits = (one) => one.place.reach * view.scale >= 60;
  for (const one of alone.filter(sits)) {
    const box = boxAround(one.x, one.y, 2 * RING + 2, 2 * RING + 2);
    if (table.fits(box) && table.isFree(box, 1) && isApart(one.x, one.y, placed)) settle(one, one.x, one.y, null, table, placed);
    else placeBeside(one, view, table, busy, placed);
  }
  for (const one of alone.filter((other) => !sits(other))) placeBeside(one, view, table, busy, placed);
  return placed;
}

function settle(one, x, y, leader, table, placed) {
  table.take(boxAround(x, y, 2 * RING + 2, 2 * RING + 2));
  placed.push({ places: [one.place], x, y, leader, half: RING });
}

function isApart(x, y, placed) {
  return placed.every((other) => Math.hypot(other.x - x, other.y - y) >= APART);
}

function crowded(shown, view) {
  const groups = shown.map((one) => [one]);
  let again = true;
  while (again) {
    again = false;
    for (let a = 0; a < groups.length && !again; a += 1) {
      for (let b = a + 1; b < groups.length && !again; b += 1) {
        if (groups[a][0].place.group === groups[b][0].place.group && groups[a][0].place.group !== 'jobs'
          && groups[a].some((p) => groups[b].some((q) => isCrowdedBy(p, q, view)))) {
          groups[a] = groups[a].concat(groups[b]);
          groups.splice(b, 1);
          again = true;
        }
      }
    }
  }
  return groups.map((group) => group.sort((p, q) => Number(p.place.ring) - Number(q.place.ring)));
}

function isCrowdedBy(p, q) {
  const limit = p.place.group === 'mounds' ? APART : 24;
  return Math.hypot(p.x - q.x, p.y - q.y) < limit;
}

function ringText(places) {
  const numbers = places.map((place) => Number(place.ring));
  const isRun = numbers.every((number, k) => k === 0 || number === numbers[k - 1] + 1);
  if (numbers.length === 1) return String(numbers[0]);
  return isRun ? numbers[0] + '–' + numbers[numbers.length - 1] : numbers.join(', ');
}

function placeBracket(members, view, table, placed) {
  const text = ringText(members.map((one) => one.place));
  const half = Math.max(20, 5 + text.length * 5.5);
  const reach = Math.max(...members.map((one) => one.place.reach * view.scale)) / 2;
  const xs = members.map((one) => one.x);
  const ys = members.map((one) => one.y);
  const [w, e] = [Math.min(...xs) - 8, Math.max(...xs) + 8];
  const [n, s] = [Math.min(...ys), Math.max(...ys)];
  const middle = (w + e) / 2;
  for (const y of [s + reach + 6, n - reach - 6, s + reach + 20, n - reach - 20, (n + s) / 2]) {
    const box = boxAround(middle, y, 2 * half + 2, 2 * RING + 2);
    if (table.fits(box) && table.isFree(box, 1) && isApart(middle, y, placed)) {
      table.take(box);
      placed.push({ places: members.map((one) => one.place), x: middle, y, half, bracket: [w, e, y, y > (n + s) / 2 ? -1 : 1] });
      return;
    }
  }
  placed.push({ places: members.map((one) => one.place), x: middle, y: (n + s) / 2, half });
}

function placeBeside(one, view, table, busy, placed) {
  let best = null;
  for (const away of [36, 46, 58, 72, 90, 112]) {
    for (let k = 0; k < 24; k += 1) {
      const angle = (k / 24) * 2 * Math.PI;
      const x = one.x + away * Math.cos(angle);
      const y = one.y + away * Math.sin(angle);
      const box = boxAround(x, y, 2 * RING + 4, 2 * RING + 4);
      if (!table.fits(box) || !table.isFree(box, 2) || !isApart(x, y, placed)) continue;
      if (isLeaderBlocked(one, x, y, table, placed)) continue;
      const cost = away * 0.11 + busy(x, y, RING + 3);
      if (!best || cost < best.cost) best = { x, y, cost };
    }
    if (best && best.cost < away * 0.11 + 1.5) break;
  }
  if (best) settle(one, best.x, best.y, [one.x, one.y], table, placed);
  else joinNearest(one, placed);
}

function isLeaderBlocked(one, x, y, table, placed) {
  for (let share = 0.25; share < 0.8; share += 0.125) {
    const px = one.x + share * (x - one.x);
    const py = one.y + share * (y - one.y);
    if (table.boxes.some((box) => px > box[0] - 1 && px < box[2] + 1 && py > box[1] - 1 && py < box[3] + 1)) return true;
  }
  return placed.some((other) => other.leader && crosses([one.x, one.y], [x, y], other.leader, [other.x, other.y]));
}

function crosses(a, b, c, d) {
  const side = (p, q, r) => Math.sign((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]));
  return side(a, b, c) !== side(a, b, d) && side(c, d, a) !== side(c, d, b);
}

function joinNearest(one, placed) {
  const nearest = placed.slice().sort((p, q) => Math.hypot(p.x - one.x, p.y - one.y) - Math.hypot(q.x - one.x, q.y - one.y))[0];
  if (!nearest) {
    placed.push({ places: [one.place], x: one.x, y: one.y, half: RING });
    return;
  }
  nearest.places.push(one.place);
  nearest.half = Math.max(20, 5 + ringText(nearest.places).length * 5.5);
}

// How much ink lies under a spot: sampled once per drawing from the marks themselves.
function inkUnder(data, question, view) {
  const cells = new Map();
  const note = (x, y, weight) => {
    const key = Math.round((x + view.pane[0]) / 9) + ':' + Math.round((y + view.pane[1]) / 9);
    cells.set(key, Math.max(weight, cells.get(key) || 0));
  };
  const follow = (flat, weight, isClosed) => {
    const points = pixels(flat, view);
    if (isClosed && points.length) points.push(points[0]);
    for (const spot of placesAlong(points, steps(0, lengthOf(points), 8))) note(spot.x, spot.y, weight);
  };
  for (const mark of data.standing.concat(question.marks)) {
    if (mark.mark === 'touch' || mark.mark.startsWith('sun-')) continue;
    const weight = mark.mark === 'building' ? 3 : mark.mark === 'tree' ? 0.8 : 1.6;
    for (const rings of mark.area || []) fillCells(pixels(rings[0], view), note, mark.mark === 'boundary' ? 0 : weight);
    for (const rings of mark.area || []) for (const ring of rings) follow(ring, weight, true);
    for (const line of mark.line || []) follow(line, weight, false);
    if (mark.at) {
      const [x, y] = view.to(mark.at[0], mark.at[1]);
      const radius = (mark.radius || 0) * view.scale;
      note(x, y, weight);
      for (const [px, py] of circlePoints(x, y, radius, 16)) note(px, py, weight);
    }
  }
  return (x, y, reach) => {
    let sum = 0;
    for (let dx = -1; dx <= 1; dx += 1) {
      for (let dy = -1; dy <= 1; dy += 1) {
        sum += cells.get(Math.round((x + (dx * reach) / 1.4) / 9) + ':' + Math.round((y + (dy * reach) / 1.4) / 9)) || 0;
      }
    }
    return sum;
  };
}

function fillCells(points, note, weight) {
  if (!weight || points.length < 3) return;
  const ys = points.map((p) => p[1]);
  for (let y = Math.min(...ys); y <= Math.max(...ys); y += 9) {
    const cuts = [];
    for (let k = 0; k < points.length; k += 1) {
      const [a, b] = [points[k], points[(k + 1) % points.length]];
      if (a[1] <= y !== b[1] <= y) cuts.push(a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0]));
    }
    cuts.sort((p, q) => p - q);
    for (let k = 0; k + 1 < cuts.length; k += 2) for (let x = cuts[k]; x < cuts[k + 1]; x += 9) note(x, y, weight);
  }
}
