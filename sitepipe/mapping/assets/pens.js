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

// The outline of a band around a line, with round ends; a circle around a place.
function band(points, half) {
  if (points.length === 1) return arc(points[0], half, 0, 2 * Math.PI, Math.min(48, Math.max(12, Math.round(half * 2))));
  const left = [];
  const right = [];
  let turn = 0;
  for (let k = 0; k < points.length; k += 1) {
    const before = points[Math.max(k - 1, 0)];
    const after = points[Math.min(k + 1, points.length - 1)];
    turn = Math.atan2(after[1] - before[1], after[0] - before[0]);
    const [nx, ny] = [-Math.sin(turn) * half, Math.cos(turn) * half];
    left.push([points[k][0] + nx, points[k][1] + ny]);
    right.push([points[k][0] - nx, points[k][1] - ny]);
  }
  const start = Math.atan2(points[1][1] - points[0][1], points[1][0] - points[0][0]);
  const tip = points[points.length - 1];
  return left.concat(arc(tip, half, turn + Math.PI / 2, -Math.PI, 8), right.reverse(), arc(points[0], half, start - Math.PI / 2, -Math.PI, 8));
}

function arc([x, y], radius, from, by, count) {
  return Array.from({ length: count }, (_, k) => [x + radius * Math.cos(from + (by * k) / count), y + radius * Math.sin(from + (by * k) / count)]);
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

// Patterns keep their size on the screen: one block of them, in pixels.
function drawPatterns(defs, tiles) {
  for (const [name, tile] of Object.entries(tiles)) {
    const pattern = draw(defs, 'pattern', {
      id: PATTERN + name, width: tile.width, height: tile.height, patternUnits: 'userSpaceOnUse',
      patternTransform: tile.turn ? 'rotate(' + tile.turn + ')' : '',
    });
    const d = tile.strokes.map((stroke) => 'M' + stroke.slice(0, 2).join(' ') + 'L' + stroke.slice(2).join(' ')).join('');
    draw(pattern, 'path', { d, class: 'pen-' + tile.role, 'stroke-width': tile.pen, opacity: tile.opacity, 'stroke-linecap': tile.is_round ? 'round' : 'butt' });
  }
}
