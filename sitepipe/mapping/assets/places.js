// Names and numbers: where they stand, so that none hides another and none is cut off.

const RING = 13;
let APART = 44;
const MOST_COST = 26;
const MOST_RINGS = 9;
const PLANTS_NAMED_FROM = 24;

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
function placeNames(data, question, view, table, measure, busy) {
  const wanted = [];
  const largest = Math.max(0, ...data.standing.filter((m) => m.mark === 'building').map((m) => ringSize(m.area[0][0])));
  for (const mark of data.standing.concat(question.marks)) {
    if (!mark.name || ['boundary', 'drive', 'level-whole'].includes(mark.mark)) continue;
    if (data.marks[mark.mark].near > 6 || mark.mark === 'stake') continue;
    if (!view.isClose) {
      if (!SHORT_NAMES.has(mark.mark)) continue;
      if (mark.mark === 'building' && ringSize(mark.area[0][0]) < 0.6 * largest) continue;
    }
    wanted.push(mark);
  }
  const last = new Set(['fixed-point', 'bed', 'wall', 'kerb']);
  const order = ['building', 'keep-clear', 'gate', 'tap', 'well', 'culvert', 'road'];
  const rank = (mark) => (last.has(mark.mark) ? 99 : order.includes(mark.mark) ? order.indexOf(mark.mark) : 50);
  wanted.sort((a, b) => rank(a) - rank(b));
  const placed = [];
  for (const mark of wanted) {
    const text = mark.name.length > 24 ? mark.name.slice(0, 23) + '…' : mark.name;
    const kind = mark.mark === 'road' ? 'name road-name' : isGrown(mark) ? 'name grown' : 'name';
    const width = measure(text, kind);
    for (const [x, y, turn] of nameSpots(mark, view, width)) {
      const box = turn ? boxAround(x, y, 19, width) : boxAround(x, y, width, 17);
      const isOver = last.has(mark.mark) && [-0.4, 0, 0.4].some((share) => busy(x + share * width, y, 8) > 1.6);
      if (table.fits(box) && table.isFree(box, 2) && !isOver) {
        table.take(box);
        placed.push({ text, x, y, turn, kind });
        break;
      }
    }
  }
  return placed;
}

// What stands in each block of plants, and how many: beside the block where there is room, else across it.
function placePlantNames(question, view, table, measure) {
  if (view.scale < view.styles.room.near) return [];
  const placed = [];
  const plants = question.marks.filter((mark) => mark.mark.startsWith('plant-'));
  const standing = new Map(plants.map((mark) => [mark, pixels(mark.at, view)
    .map(([x, y]) => [x + view.pane[0], y + view.pane[1]]).filter(([x, y]) => table.isSeen(x, y))]));
  // A name may lie on its own plants, never on others: it would seem to be theirs.
  const beyond = (value, low, high) => Math.max(low - value, value - high, 0);
  const isTheirs = (box, own) => plants.some((mark) => mark !== own && standing.get(mark)
    .some(([x, y]) => Math.hypot(beyond(x, box[0], box[2]), beyond(y, box[1], box[3])) < Math.max(3, 0.8 * mark.half * view.scale)));
  const put = (text, spots, own) => {
    for (const [x, y] of spots) {
      const box = boxAround(x, y, measure(text, 'name grown'), 17);
      if (!table.fits(box) || !table.isFree(box, 2) || isTheirs(box, own)) continue;
      table.take(box);
      placed.push({ text, x, y, kind: 'name grown' });
      return;
    }
  };
  for (const mark of question.marks) {
    if (mark.mark === 'room') {
      const [x, y] = view.to(mark.at[0], mark.at[1]);
      put(mark.name, [[x + view.pane[0], y + view.pane[1]]], null);
    }
    const isNamed = view.chosen ? mark.thing === view.chosen : view.scale >= PLANTS_NAMED_FROM;
    if (!mark.mark.startsWith('plant-') || !isNamed) continue;
    const seen = standing.get(mark);
    if (!seen.length) continue;
    const text = mark.name.length > 34 ? mark.name.slice(0, 33) + '…' : mark.name;
    const half = measure(text, 'name grown') / 2;
    const [xs, ys] = [seen.map((p) => p[0]), seen.map((p) => p[1])];
    const [w, e, n, s] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const [x, y, room] = [(w + e) / 2, (n + s) / 2, Math.min(mark.half * view.scale, 30) + 6];
    const beside = [[x, s + room + 9], [x, n - room - 9]];
    for (const away of [26, 0]) for (const down of [s, n, y]) beside.unshift([e + room + away + half, down], [w - room - away - half, down]);
    const across = [[x, y], [x, y + room], [x, y - room]];
    put(text, e - w > 2 * half + 12 && s - n > 40 ? across.concat(beside) : beside.concat(across), mark);
  }
  return placed;
}

function isGrown(mark) {
  return mark.mark === 'tree' || mark.mark === 'hedge' || mark.mark === 'open-water';
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
    const hasRoof = view.isClose && mark.mark === 'building';
    const share = hasRoof ? 0.27 : mark.mark === 'keep-clear' ? 0.5 : 0.42;
    const inside = e - w > width + 4 && s - n > (hasRoof ? 56 : 22) ? [[(w + e) / 2, n + (s - n) * share]] : [];
    if (mark.mark === 'keep-clear' && !view.isClose) return inside;
    return inside.concat([[(w + e) / 2, n - 12], [(w + e) / 2, s + 12], [e + 6 + width / 2, (n + s) / 2], [w - 6 - width / 2, (n + s) / 2]]);
  }
  if (mark.at) {
    const [x, y] = onScreen(view.to(mark.at[0], mark.at[1]));
    if (mark.mark === 'tree') {
      const radius = mark.half * view.scale;
      return radius * 2 > width + 6 ? [[x, y - 13], [x, y + 15]] : around(x, y, radius + 4, radius + 11);
    }
    return around(x, y, 10, 17);
  }
  const lines = mark.line && mark.line.length ? mark.line : mark.area[0];
  const points = pixels(mark.axis || lines[0], view).map(onScreen);
  const long = lengthOf(points);
  if (mark.mark === 'gate') {
    const spot = placesAlong(points, [long / 2])[0];
    return [[spot.x - width / 2 - 6, spot.y + 16], [spot.x, spot.y + 17], [spot.x + width / 2 + 8, spot.y + 16], [spot.x, spot.y - 17]];
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
  APART = view.isWide ? 34 : 44;
  const shown = places.filter((place) => place.at).map((place) => {
    const p = view.to(place.at[0], place.at[1]);
    return { place, x: p[0] + view.pane[0], y: p[1] + view.pane[1] };
  }).filter((one) => table.isSeen(one.x, one.y));
  const placed = [];
  const alone = [];
  const most = view.isClose && view.scale >= 6 ? 40 : MOST_RINGS;
  const weight = (members) => Math.min(...members.map((one) => one.place.weight));
  const groups = crowded(shown).sort((a, b) => weight(a) - weight(b)).slice(0, most);
  for (const members of groups) {
    if (members.length > 1 && members[0].place.group === 'mounds') placeBracket(members, view, table, busy, placed);
    else alone.push(Object.assign({}, members[0], { places: members.map((one) => one.place) }));
  }
  const sits = (one) => one.place.reach * view.scale >= 60;
  const others = (one) => alone.filter((other) => other !== one);
  for (const one of alone.filter(sits)) {
    if (!placeWithin(one, view, table, placed)) placeBeside(one, others(one), table, busy, placed);
  }
  for (const one of alone.filter((other) => !sits(other))) placeBeside(one, others(one), table, busy, placed);
  return placed;
}

// On its thing, at the middle or as near to it as room allows.
function placeWithin(one, view, table, placed) {
  const most = one.place.reach * view.scale * 0.22;
  for (const away of [0, 9, 16, 24, 32].filter((value) => value <= most)) {
    for (let k = 0; k < (away ? 12 : 1); k += 1) {
      const x = one.x + away * Math.cos((k / 6) * Math.PI);
      const y = one.y + away * Math.sin((k / 6) * Math.PI);
      const box = boxAround(x, y, 2 * RING + 2, 2 * RING + 2);
      if (table.fits(box) && table.isFree(box, 1) && isApart(x, y, placed)) {
        settle(one, x, y, null, table, placed);
        return true;
      }
    }
  }
  return false;
}

function settle(one, x, y, leader, table, placed) {
  const half = halfOf(one.places);
  table.take(boxAround(x, y, 2 * half + 2, 2 * RING + 2));
  placed.push({ places: one.places, x, y, leader, half });
}

function halfOf(places) {
  return places.length === 1 ? RING : Math.max(20, 5 + ringText(places).length * 5.5);
}

function isApart(x, y, placed) {
  return placed.every((other) => Math.hypot(other.x - x, other.y - y) >= APART);
}

// Neighbours in the list and on the ground share a ring: a run of mounds, or places on one spot.
function crowded(shown) {
  const groups = [];
  for (const one of shown) {
    const last = groups[groups.length - 1];
    const limit = one.place.group === 'mounds' ? APART : 14;
    if (last && last[0].place.group === one.place.group && last.some((other) => Math.hypot(other.x - one.x, other.y - one.y) < limit)) last.push(one);
    else groups.push([one]);
  }
  return groups;
}

function ringText(places) {
  const numbers = places.map((place) => Number(place.ring));
  const isRun = numbers.every((number, k) => k === 0 || number === numbers[k - 1] + 1);
  if (numbers.length === 1) return String(numbers[0]);
  return isRun ? numbers[0] + '–' + numbers[numbers.length - 1] : numbers.join(', ');
}

function placeBracket(members, view, table, busy, placed) {
  const half = halfOf(members.map((one) => one.place));
  const reach = Math.max(...members.map((one) => one.place.reach * view.scale)) / 2;
  const xs = members.map((one) => one.x);
  const ys = members.map((one) => one.y);
  const [w, e] = [Math.min(...xs) - 8, Math.max(...xs) + 8];
  const [n, s] = [Math.min(...ys), Math.max(...ys)];
  const middle = (w + e) / 2;
  const spots = [s + reach + 9, n - reach - 9, s + reach + 22, n - reach - 22, s + reach + 40, n - reach - 40, (n + s) / 2];
  const isClear = (y) => ![-half, 0, half].some((dx) => busy.isOnOther(middle + dx, y, ''));
  for (const y of spots.filter(isClear).concat(spots)) {
    const box = boxAround(middle, y, 2 * half + 2, 2 * RING + 2);
    if (table.fits(box) && table.isFree(box, 1) && isApart(middle, y, placed)) {
      table.take(box);
      placed.push({ places: members.map((one) => one.place), x: middle, y, half, bracket: [w, e, y, y > (n + s) / 2 ? -1 : 1] });
      return;
    }
  }
  placed.push({ places: members.map((one) => one.place), x: middle, y: (n + s) / 2, half });
}

function placeBeside(one, others, table, busy, placed) {
  let best = null;
  for (const away of [36, 46, 58, 72, 88]) {
    for (let k = 0; k < 24; k += 1) {
      const angle = (k / 24) * 2 * Math.PI;
      const x = one.x + away * Math.cos(angle);
      const y = one.y + away * Math.sin(angle);
      const box = boxAround(x, y, 2 * halfOf(one.places) + 4, 2 * RING + 4);
      if (!table.fits(box) || !table.isFree(box, 2) || !isApart(x, y, placed)) continue;
      if (isLeaderBlocked(one, x, y, table, placed)) continue;
      const hides = others.some((other) => Math.hypot(other.x - x, other.y - y) < RING + 7);
      const cost = away * 0.11 + busy(x, y, RING + 3) + (hides ? 9 : 0) + (busy.isOnOther(x, y, one.place ? one.place.thing : '') ? 15 : 0);
      if (!best || cost < best.cost) best = { x, y, cost };
    }
    if (best && best.cost < away * 0.11 + 1.5) break;
  }
  if (best && best.cost < MOST_COST) settle(one, best.x, best.y, [one.x, one.y], table, placed);
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

// How much ink lies under a spot: sampled once per drawing from the marks themselves.
function inkUnder(data, question, view) {
  const cells = new Map();
  // One screen around what is shown: near to, the whole parcel would be millions of spots.
  const box = [-view.pane[0] - view.size[0], -view.pane[1] - view.size[1], 2 * view.size[0] - view.pane[0], 2 * view.size[1] - view.pane[1]];
  const owners = new Map();
  let owner = null;
  const keyOf = (x, y) => Math.round(x / 9) + ':' + Math.round(y / 9);
  const note = (x, y, weight) => {
    const key = keyOf(x + view.pane[0], y + view.pane[1]);
    cells.set(key, Math.max(weight, cells.get(key) || 0));
    if (owner !== null) owners.set(key, owner);
  };
  const follow = (flat, weight, isClosed) => {
    const points = pixels(flat, view);
    if (isClosed && points.length) points.push(points[0]);
    for (let k = 1; k < points.length; k += 1) {
      const part = within(points[k - 1], points[k], box);
      if (part) for (const spot of placesAlong(part, steps(0, lengthOf(part), 8))) note(spot.x, spot.y, weight);
    }
  };
  for (const mark of data.standing.concat(question.marks)) {
    if (/^(touch|sun-|level)/.test(mark.mark)) continue;
    // What a finger looks for, and shores: no other thing's number may lie there.
    owner = /^(stands|water|mound|hoop-house|trellis|path|tipping|buried|tap|well|seen-wet|seen-dry|stake-out)/.test(mark.mark) ? mark.thing || mark.mark : null;
    const weight = mark.mark === 'building' ? 3 : mark.mark === 'tree' ? 0.8 : 1.6;
    for (const rings of mark.area || []) fillCells(pixels(rings[0], view), note, mark.mark === 'boundary' ? 0 : weight, box);
    for (const rings of mark.area || []) for (const ring of rings) follow(ring, weight, true);
    for (const line of mark.line || []) follow(line, weight, false);
    if (mark.at) {
      const [x, y] = view.to(mark.at[0], mark.at[1]);
      note(x, y, weight);
      for (const [px, py] of band([[x, y]], (mark.half || 0) * view.scale)) note(px, py, weight);
    }
  }
  const around = (x, y, reach) => [-1, 0, 1].flatMap((dx) => [-1, 0, 1].map((dy) => keyOf(x + (dx * reach) / 1.4, y + (dy * reach) / 1.4)));
  const busy = (x, y, reach) => around(x, y, reach).reduce((sum, key) => sum + (cells.get(key) || 0), 0);
  busy.isOnOther = (x, y, own) => around(x, y, RING).some((key) => owners.has(key) && owners.get(key) !== own);
  return busy;
}

// The part of a straight piece that lies in a box (Liang & Barsky 1984), or null.
function within(a, b, box) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  let [from, to] = [0, 1];
  for (const [step, room] of [[-dx, a[0] - box[0]], [dx, box[2] - a[0]], [-dy, a[1] - box[1]], [dy, box[3] - a[1]]]) {
    if (step === 0 && room < 0) return null;
    if (step < 0) from = Math.max(from, room / step);
    if (step > 0) to = Math.min(to, room / step);
  }
  return from > to ? null : [[a[0] + from * dx, a[1] + from * dy], [a[0] + to * dx, a[1] + to * dy]];
}

function fillCells(points, note, weight, box) {
  if (!weight || points.length < 3) return;
  const ys = points.map((p) => p[1]);
  const first = Math.min(...ys);
  for (let y = first + 9 * Math.max(0, Math.ceil((box[1] - first) / 9)); y <= Math.min(Math.max(...ys), box[3]); y += 9) {
    const cuts = [];
    for (let k = 0; k < points.length; k += 1) {
      const [a, b] = [points[k], points[(k + 1) % points.length]];
      if (a[1] <= y !== b[1] <= y) cuts.push(a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0]));
    }
    cuts.sort((p, q) => p - q);
    for (let k = 0; k + 1 < cuts.length; k += 2) {
      const start = cuts[k] + 9 * Math.max(0, Math.ceil((box[0] - cuts[k]) / 9));
      for (let x = start; x < Math.min(cuts[k + 1], box[2]); x += 9) note(x, y, weight);
    }
  }
}
