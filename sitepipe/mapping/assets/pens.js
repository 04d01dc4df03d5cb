// Pens: strokes in screen pixels, made from places in metres.

const NAMESPACE = 'http://www.w3.org/2000/svg';

function draw(parent, tag, attributes) {
  const element = document.createElementNS(NAMESPACE, tag);
  for (const name of Object.keys(attributes || {})) {
    if (attributes[name] !== undefined && attributes[name] !== '') {
      element.setAttribute(name, attributes[name]);
    }
  }
  if (parent) parent.appendChild(element);
  return element;
}

function write(parent, x, y, text, attributes) {
  const element = draw(parent, 'text', Object.assign({ x: tenth(x), y: tenth(y) }, attributes));
  element.textContent = text;
  return element;
}

function tenth(value) {
  return Math.round(value * 10) / 10;
}

// Flat metres to a list of [x, y] in pixels.
function pixels(flat, view) {
  const points = [];
  for (let k = 0; k + 1 < flat.length; k += 2) points.push(view.to(flat[k], flat[k + 1]));
  return points;
}

function trace(points, isClosed) {
  if (!points.length) return '';
  return 'M' + points.map((p) => tenth(p[0]) + ' ' + tenth(p[1])).join('L') + (isClosed ? 'Z' : '');
}

function traceAreas(areas, view) {
  return areas.map((rings) => rings.map((ring) => trace(pixels(ring, view), true)).join('')).join('');
}

function traceLines(lines, view) {
  return lines.map((line) => trace(pixels(line, view), false)).join('');
}

function lengthOf(points) {
  let total = 0;
  for (let k = 1; k < points.length; k += 1) total += distance(points[k - 1], points[k]);
  return total;
}

function distance(a, b) {
  return Math.hypot(b[0] - a[0], b[1] - a[1]);
}

// Places on a line at the given distances from its start, each with the line's direction.
function placesAlong(points, distances) {
  const found = [];
  let walked = 0;
  let next = 0;
  for (let k = 1; k < points.length && next < distances.length; k += 1) {
    const piece = distance(points[k - 1], points[k]);
    while (next < distances.length && distances[next] <= walked + piece + 1e-9) {
      const share = piece > 0 ? (distances[next] - walked) / piece : 0;
      const dx = piece > 0 ? (points[k][0] - points[k - 1][0]) / piece : 1;
      const dy = piece > 0 ? (points[k][1] - points[k - 1][1]) / piece : 0;
      found.push({
        x: points[k - 1][0] + share * (points[k][0] - points[k - 1][0]),
        y: points[k - 1][1] + share * (points[k][1] - points[k - 1][1]),
        dx, dy, leg: k - 1,
      });
      next += 1;
    }
    walked += piece;
  }
  return found;
}

function steps(from, to, by) {
  const list = [];
  for (let value = from; value <= to + 1e-9; value += by) list.push(value);
  return list;
}

// A band around a line: its outline, with round or square ends.
function band(points, half, isRound) {
  const left = [];
  const right = [];
  for (let k = 0; k < points.length; k += 1) {
    const before = points[Math.max(k - 1, 0)];
    const after = points[Math.min(k + 1, points.length - 1)];
    const long = Math.hypot(after[0] - before[0], after[1] - before[1]) || 1;
    const nx = -(after[1] - before[1]) / long;
    const ny = (after[0] - before[0]) / long;
    left.push([points[k][0] + nx * half, points[k][1] + ny * half]);
    right.push([points[k][0] - nx * half, points[k][1] - ny * half]);
  }
  if (!isRound) return left.concat(right.reverse());
  return left.concat(cap(points, half, true), right.reverse(), cap(points, half, false));
}

function cap(points, half, isEnd) {
  const tip = isEnd ? points[points.length - 1] : points[0];
  const back = isEnd ? points[points.length - 2] : points[1];
  const turn = Math.atan2(tip[1] - back[1], tip[0] - back[0]);
  const round = [];
  for (let k = 1; k < 8; k += 1) {
    const angle = turn + Math.PI / 2 - (k / 8) * Math.PI;
    round.push([tip[0] + half * Math.cos(angle), tip[1] + half * Math.sin(angle)]);
  }
  return round;
}

function signedArea(points) {
  let sum = 0;
  for (let k = 0; k < points.length; k += 1) {
    const next = points[(k + 1) % points.length];
    sum += points[k][0] * next[1] - next[0] * points[k][1];
  }
  return sum / 2;
}

// A closed ring as a row of small arcs that bulge outwards.
function scallops(points, step) {
  const ring = points.concat([points[0]]);
  const total = lengthOf(ring);
  const count = Math.max(7, Math.round(total / step));
  const spots = placesAlong(ring, steps(0, total - total / count / 2, total / count));
  const sweep = signedArea(points) > 0 ? 1 : 0;
  const radius = tenth((total / count) * 0.58);
  let path = 'M' + tenth(spots[0].x) + ' ' + tenth(spots[0].y);
  for (let k = 1; k <= spots.length; k += 1) {
    const spot = spots[k % spots.length];
    path += 'A' + radius + ' ' + radius + ' 0 0 ' + sweep + ' ' + tenth(spot.x) + ' ' + tenth(spot.y);
  }
  return path + 'Z';
}

function circlePoints(x, y, radius, count) {
  const points = [];
  for (let k = 0; k < count; k += 1) {
    const angle = (2 * Math.PI * k) / count;
    points.push([x + radius * Math.cos(angle), y + radius * Math.sin(angle)]);
  }
  return points;
}

// Patterns keep their size on the screen: one block of them, in pixels.
function drawPatterns(defs, prefix) {
  const tile = (name, width, height, turn) => draw(defs, 'pattern', {
    id: prefix + name, width, height, patternUnits: 'userSpaceOnUse',
    patternTransform: turn ? 'rotate(' + turn + ')' : '',
  });
  const stroke = (pattern, d, role, width, extra) => draw(pattern, 'path', Object.assign({
    d, class: 'pen-' + role, 'stroke-width': width,
  }, extra));
  stroke(tile('ripples', 16, 9), 'M1 2.5h6M9 7h6', 'water-line', 1.1);
  const dots = tile('dots', 9, 9);
  draw(dots, 'circle', { cx: 2.2, cy: 2.2, r: 0.95, class: 'ink-water-line' });
  draw(dots, 'circle', { cx: 6.7, cy: 6.7, r: 0.95, class: 'ink-water-line' });
  stroke(tile('hatch-11', 11, 11, 45), 'M5.5 -1V12', 'shade-line', 1.2, { opacity: 0.55 });
  stroke(tile('hatch-6', 6, 6, 45), 'M3 -1V7', 'shade-line', 1.5, { opacity: 0.8 });
  stroke(tile('cross-5', 5, 5, 45), 'M2.5 -1V6M-1 2.5H6', 'shade-line', 1.05);
  stroke(tile('hatch-10', 10, 10, 45), 'M5 -1V11', 'water-line', 1.9);
  stroke(tile('back-hatch-8', 8, 8, -45), 'M4 -1V9', 'ink', 1.1);
  stroke(tile('chips', 7, 7), 'M.8 2.2l2.2 -1.1M3.8 5.6l2.2 -.9M4.6 1.4l1.4 1.1M.9 5l1 1.2', 'path-line', 0.95);
  const tufts = tile('tufts', 15, 13);
  stroke(tufts, 'M3.6 5.6V1.6M3.6 5.6L1.3 2.6M3.6 5.6L5.9 2.6', 'plant-line', 1.25);
  stroke(tufts, 'M11.1 12.1V8.1M11.1 12.1L8.8 9.1M11.1 12.1L13.4 9.1', 'plant-line', 1.25);
}
