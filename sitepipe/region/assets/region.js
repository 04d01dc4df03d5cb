(function () {
'use strict';

const DOTS = [13, 10, 7, 4.5];
const SVG = 'http://www.w3.org/2000/svg';
const region = JSON.parse(document.getElementById('region-data').textContent);
const known = region.parcels.filter((parcel) => !parcel.why);
const at = (id) => document.getElementById(id);
const map = at('map');
const pen = map.getContext('2d');
let asked = 0;
let chosen = null;
let view = null;

function made(name, text, parent, kind) {
  const element = document.createElement(name);
  if (text) element.textContent = text;
  if (kind) element.className = kind;
  if (parent) parent.append(element);
  return element;
}

/* Places of parcels, once. */
for (const parcel of region.parcels) {
  let west = Infinity, south = Infinity, east = -Infinity, north = -Infinity;
  for (const line of parcel.lines) {
    for (let k = 0; k < line.length; k += 2) {
      west = Math.min(west, line[k]); east = Math.max(east, line[k]);
      south = Math.min(south, line[k + 1]); north = Math.max(north, line[k + 1]);
    }
  }
  parcel.box = [west, south, east, north];
  parcel.middle = [(west + east) / 2, (south + north) / 2];
}
const sizes = known.map((parcel) => Math.min(parcel.box[2] - parcel.box[0], parcel.box[3] - parcel.box[1]))
  .filter(Number.isFinite).sort((a, b) => a - b);
const usual = sizes.length ? sizes[sizes.length >> 1] : 1;

/* Questions, answer, legend, list. */
region.questions.forEach((question, number) => {
  const label = made('label', '', at('questions'));
  const input = made('input', '', label);
  input.type = 'radio';
  input.name = 'question';
  input.checked = number === asked;
  input.addEventListener('change', () => { asked = number; show(); });
  made('span', question.asked, label);
});

function mark(parent, draw) {
  const svg = document.createElementNS(SVG, 'svg');
  svg.setAttribute('width', 34);
  svg.setAttribute('height', 28);
  svg.setAttribute('aria-hidden', 'true');
  const shape = document.createElementNS(SVG, draw.r ? 'circle' : 'rect');
  const said = draw.r ? { cx: 17, cy: 14, r: draw.r, class: 'mark-dot' }
    : { x: 1, y: 4, width: 32, height: 20, class: draw.class };
  for (const name of Object.keys(said)) shape.setAttribute(name, said[name]);
  svg.append(shape);
  parent.append(svg);
}

function legend(question) {
  const list = at('legend');
  list.replaceChildren();
  const entry = (draw, text) => {
    const item = made('li', '', list);
    mark(item, draw);
    made('span', text, item);
  };
  question.classes.forEach((text, number) => entry({ r: DOTS[number] }, text));
  entry({ class: 'mark-edge' }, 'Parcel');
  if (known.length < region.parcels.length) entry({ class: 'mark-unread' }, 'Not worked out');
  at('legend-head').textContent = question.legend;
}

for (const parcel of known) {
  const item = made('li');
  parcel.item = item;
  parcel.ring = made('span', '', item, 'ring');
  const entry = made('div', '', item, 'entry');
  const name = made(parcel.page ? 'a' : 'b', parcel.name, entry);
  if (parcel.page) name.href = parcel.page.split('/').map(encodeURIComponent).join('/');
  const figures = made('div', '', entry, 'figures');
  parcel.cells = parcel.figures.map(([figure, words]) => {
    const cell = made('div', '', figures);
    made('b', figure, cell);
    made('span', words, cell, 'words');
    return cell;
  });
  if (parcel.caution) made('p', parcel.caution, entry);
  item.addEventListener('click', () => choose(parcel, false));
}
for (const parcel of region.parcels.filter((one) => one.why)) {
  const item = made('li', '', at('unread').querySelector('ul'));
  made('b', parcel.name, item);
  item.append(': ' + parcel.why);
  at('unread').hidden = false;
}

function show() {
  const question = region.questions[asked];
  at('answer').textContent = question.answer;
  legend(question);
  at('questions').querySelectorAll('label').forEach((label, number) => {
    label.classList.toggle('is-asked', number === asked);
  });
  const least = -Infinity;
  const order = (parcel) => parcel.order[asked] === null ? least : parcel.order[asked];
  known.sort((a, b) => order(b) - order(a) || (a.name < b.name ? -1 : 1));
  known.forEach((parcel, rank) => {
    parcel.rank = rank + 1;
    parcel.ring.textContent = parcel.rank;
    parcel.cells.forEach((cell, number) => cell.classList.toggle('is-asked', number === asked));
  });
  at('list').replaceChildren(...known.map((parcel) => parcel.item));
  draw();
}

function choose(parcel, isScrolled) {
  if (chosen) chosen.item.classList.remove('is-chosen');
  chosen = parcel;
  parcel.item.classList.add('is-chosen');
  if (isScrolled) parcel.item.scrollIntoView({ block: 'center' });
  draw();
}

/* The map: metres from the south-west corner; a view is its middle and its pixels a metre. */
function whole() {
  const [width, height] = region.size;
  const room = Math.min((map.clientWidth - 60) / Math.max(width, 1), (map.clientHeight - 120) / Math.max(height, 1));
  const scale = Math.max(room, 1e-6);
  return { x: width / 2, y: height / 2 + 18 / scale, scale };  // Below the tools.
}

function toScreen(x, y) {
  return [map.clientWidth / 2 + (x - view.x) * view.scale, map.clientHeight / 2 - (y - view.y) * view.scale];
}

function trace(line) {
  for (let k = 0; k < line.length; k += 2) {
    const [x, y] = toScreen(line[k], line[k + 1]);
    if (k) pen.lineTo(x, y); else pen.moveTo(x, y);
  }
}

function draw() {
  const width = map.clientWidth, height = map.clientHeight, ratio = window.devicePixelRatio || 1;
  if (!width || !height) return;
  view = view || whole();
  map.width = Math.round(width * ratio);
  map.height = Math.round(height * ratio);
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  const style = getComputedStyle(document.documentElement);
  const colour = (role) => style.getPropertyValue('--' + role).trim();
  const ink = colour('ink'), card = colour('card');
  pen.clearRect(0, 0, width, height);
  const seen = region.parcels.filter((parcel) => {
    const [left, bottom] = toScreen(parcel.box[0], parcel.box[1]);
    const [right, top] = toScreen(parcel.box[2], parcel.box[3]);
    return right > 0 && left < width && bottom > 0 && top < height;
  });
  const near = Math.min(1, Math.max(0.15, usual * view.scale / 30));
  pen.lineCap = 'butt';
  for (const parcel of seen) {
    pen.beginPath();
    parcel.lines.forEach(trace);
    pen.fillStyle = card;
    if (!parcel.why) pen.fill('evenodd');
    pen.setLineDash(near < 0.6 ? [] : parcel.why ? [1.2, 4] : [12, 4, 2, 4]);
    pen.strokeStyle = ink;
    pen.lineWidth = parcel === chosen ? 2.8 : Math.max(0.5, 1.4 * near);
    pen.stroke();
  }
  pen.setLineDash([]);
  for (const [kind, line] of region.land) {
    pen.beginPath();
    trace(line);
    pen.strokeStyle = kind === 'water' ? colour('water-line') : colour('soft');
    pen.lineWidth = kind === 'water' ? 2.2 : 1.2;
    pen.stroke();
  }
  pen.font = 'bold 15px Charter, Cambria, "Noto Serif", serif';
  pen.textBaseline = 'middle';
  for (const parcel of seen) {
    if (parcel.why || parcel.class[asked] === null) continue;
    const [x, y] = toScreen(...parcel.middle);
    const r = Math.max(1, DOTS[parcel.class[asked]] * near);
    pen.beginPath();
    pen.arc(x, y, r, 0, 7);
    pen.fillStyle = ink;
    pen.fill();
    if (usual * view.scale >= 44 || parcel === chosen) {
      pen.lineWidth = 3.5;
      pen.strokeStyle = card;
      pen.strokeText(parcel.rank, x + r + 4, y);
      pen.fillText(parcel.rank, x + r + 4, y);
    }
  }
  bar();
}

function bar() {
  const foot = region.feet ? 0.3048 : 1;
  const most = 160 / view.scale / foot;
  const power = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((k) => k * power).find((one) => one <= most) || power;
  at('bar').style.width = length * foot * view.scale + 'px';
  const told = region.feet ? length.toLocaleString('en') + ' ft'
    : length >= 1000 ? length / 1000 + ' km' : length.toLocaleString('en') + ' m';
  at('length').textContent = told;
}

function zoom(by, x, y) {
  if (!by) { view = null; draw(); return; }
  const before = [(x - map.clientWidth / 2) / view.scale, (map.clientHeight / 2 - y) / view.scale];
  const scale = Math.min(Math.max(view.scale * by, whole().scale / 2), 20);
  const kept = scale / view.scale;
  view = { x: view.x + before[0] * (1 - 1 / kept), y: view.y + before[1] * (1 - 1 / kept), scale };
  draw();
}

at('tools').addEventListener('click', (event) => {
  if (event.target.dataset.zoom) zoom(Number(event.target.dataset.zoom), map.clientWidth / 2, map.clientHeight / 2);
});
map.addEventListener('wheel', (event) => {
  event.preventDefault();
  zoom(event.deltaY < 0 ? 1.25 : 0.8, event.offsetX, event.offsetY);
}, { passive: false });
map.addEventListener('keydown', (event) => {
  const step = { ArrowLeft: [-60, 0], ArrowRight: [60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
  if (step) { view.x += step[0] / view.scale; view.y += step[1] / view.scale; draw(); event.preventDefault(); }
  if (event.key === '+' || event.key === '=') zoom(1.5, map.clientWidth / 2, map.clientHeight / 2);
  if (event.key === '-') zoom(1 / 1.5, map.clientWidth / 2, map.clientHeight / 2);
});

const held = new Map();
let moved = 0;
map.addEventListener('pointerdown', (event) => {
  map.setPointerCapture(event.pointerId);
  held.set(event.pointerId, [event.offsetX, event.offsetY]);
  moved = 0;
});
map.addEventListener('pointermove', (event) => {
  const last = held.get(event.pointerId);
  if (!last) return;
  const now = [event.offsetX, event.offsetY];
  moved += Math.hypot(now[0] - last[0], now[1] - last[1]);
  if (held.size === 1) {
    view.x -= (now[0] - last[0]) / view.scale;
    view.y += (now[1] - last[1]) / view.scale;
    draw();
  } else {
    const other = [...held].find(([id]) => id !== event.pointerId)[1];
    const spread = (place) => Math.max(Math.hypot(place[0] - other[0], place[1] - other[1]), 1);
    zoom(spread(now) / spread(last), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
  }
  held.set(event.pointerId, now);
});
const let_go = (event) => {
  if (held.delete(event.pointerId) && moved < 6 && event.type === 'pointerup') pick(event.offsetX, event.offsetY);
};
map.addEventListener('pointerup', let_go);
map.addEventListener('pointercancel', let_go);

function pick(x, y) {
  let best = null, nearest = 30;
  for (const parcel of known) {
    const [left, bottom] = toScreen(parcel.box[0], parcel.box[1]);
    const [right, top] = toScreen(parcel.box[2], parcel.box[3]);
    const far = Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom));
    const middle = toScreen(...parcel.middle);
    const away = far + Math.hypot(middle[0] - x, middle[1] - y) * 0.01;
    if (away < nearest) { best = parcel; nearest = away; }
  }
  if (best) choose(best, true);
}

new ResizeObserver(draw).observe(map);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', draw);
show();
document.body.classList.add('is-ready');
}());
