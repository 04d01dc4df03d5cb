// Marks: one hand for all of them. What a mark looks like stands in the page's data, beside the sheets' own.

// Rings and open lines of a thing in pixels: a band around its lines or places, a row of arcs along its edge.
function outlineOf(drawn, style, view) {
  const half = Math.max(style.band || 0, (drawn.half || 0) * view.scale);
  const step = style.is_scalloped ? Math.min(Math.max(0.42 * half, 7), 11) : 0;
  const away = half - 0.2 * step;
  let rings = (drawn.area || []).flatMap((area) => area.map((ring) => pixels(ring, view)));
  let lines = (drawn.line || []).map((line) => pixels(line, view));
  if (style.band) {
    rings = rings.concat(lines.map((line) => band(line, away)), seenSpots(drawn, view).map((spot) => band([spot], away)));
    lines = [];
  }
  const area = rings.filter((ring) => !isSpeck(ring)).map((ring) => (step ? scallops(ring, step) : trace(ring, true))).join('');
  return { area, lines: lines.filter((line) => distance(line[0], line[line.length - 1]) > 0.1 || !isSpeck(line)), half };
}

// Places that lie on the screen or one screen beside it, where a drag may bring them.
function seenSpots(drawn, view) {
  const [width, height] = view.size;
  return pixels(drawn.at || [], view).filter(([x, y]) => x + view.pane[0] > -width && x + view.pane[0] < 2 * width
    && y + view.pane[1] > -height && y + view.pane[1] < 2 * height);
}

// In an overview the smallest pieces of a shore would be specks: they wait until one comes closer.
const PATTERN = 'pattern-';
const isSpeck = (points) => Math.abs(signedArea(points)) < 26;

// Marks of one kind: all their edges below all their fills where they run into one another.
function drawKind(group, name, things, view) {
  const style = view.styles[name];
  if (!style || (style.near || 0) > (view.isClose ? Math.max(view.scale, 6) : view.scale)) return;
  const kind = draw(group, 'g', { class: 'kind-' + name });
  for (const steps of style.is_joined ? ['edge', 'line', 'fill hit'] : ['edge fill line hit']) {
    for (const thing of things) drawSteps(kind, thing, style, view, steps);
  }
}

function drawMarks(group, marks, view) {
  const kinds = new Map();
  for (const mark of marks) kinds.set(mark.mark, (kinds.get(mark.mark) || []).concat([mark]));
  for (const name of Object.keys(view.styles)) if (kinds.has(name)) drawKind(group, name, kinds.get(name), view);
}

function drawSteps(group, drawn, style, view, steps) {
  if (drawn.rank >= view.mostFlows && !view.isClose) return;
  if (drawn.mark === 'stake' && drawn.thing !== view.chosen) return;
  const { area, lines, half } = outlineOf(drawn, style, view);
  const followed = lines.map((line) => trace(line)).join('') || area;
  const isChosen = drawn.thing && drawn.thing === view.chosen;
  const width = Math.max(style.width || 0, ...(drawn.widths || [])) * (isChosen ? 1.6 : 1);
  const pen = (d, role, wide, extra) => draw(group, 'path', Object.assign({ d, class: 'pen-' + role, 'stroke-width': wide, 'stroke-linejoin': 'round' }, extra));
  if (steps.includes('edge') && style.edge) pen(followed, 'paper', width + style.edge, { 'stroke-linecap': 'round' });
  if (steps.includes('fill')) {
    const opacity = (style.opacity || 1) * (view.isQuiet && style.is_scalloped ? 0.58 : 1);
    const fill = { d: area, 'fill-rule': 'evenodd', opacity };
    if (style.fill) draw(group, 'path', Object.assign({ class: 'ink-' + style.fill }, fill));
    if (style.pattern) draw(group, 'path', Object.assign({ fill: 'url(#' + PATTERN + style.pattern + ')' }, fill));
    if (style.is_inset && area) drawInsetShores(group, area, style, view);
  }
  if (steps.includes('line')) {
    if (style.line && drawn.widths) {
      let start = 0;
      for (let k = 1; k < lines[0].length; k += 1) {
        if (drawn.widths[k] === drawn.widths[start] && k < lines[0].length - 1) continue;
        pen(trace(lines[0].slice(start, k + 1)), style.line, drawn.widths[start] * (isChosen ? 1.6 : 1), { 'stroke-linecap': 'round' });
        start = k;
      }
    } else if (style.line) {
      const dashes = style.dashes || [];
      pen(followed, style.line, width, { opacity: area ? 1 : style.opacity, 'stroke-dasharray': dashes.join(' '), 'stroke-linecap': dashes[0] < 1 ? 'round' : 'butt' });
    }
    for (const figure of style.figures || []) drawFigure(pen, figure, drawn, lines, half, view);
    if (style.letter) {
      for (const [x, y] of seenSpots(drawn, view)) write(group, x, y + 5.2, style.letter, { class: 'letter ink-' + (style.letter_role || 'card') });
    }
  }
  if (steps.includes('hit') && drawn.thing && !/^(plant|stake)/.test(drawn.mark)) drawHit(group, drawn, style, area, lines, isChosen, view);
}

// What a finger finds: the inside of a thing, and lines and places as wide as a finger.
function drawHit(group, drawn, style, area, lines, isChosen, view) {
  const isPlain = !style.line && !style.figures;
  const data = { 'data-thing': drawn.thing };
  if (area) draw(group, 'path', Object.assign({ d: area, class: 'touch' + (isPlain ? ' is-ground' : '') + (isPlain && isChosen ? ' is-chosen' : '') }, data));
  else if (lines.length) draw(group, 'path', Object.assign({ d: lines.map((line) => trace(line)).join(''), class: 'touch-line' }, data));
  if (drawn.at && !style.band) {
    draw(group, 'path', Object.assign({ d: seenSpots(drawn, view).map((spot) => trace(band([spot], 9), true)).join(''), class: 'touch' }, data));
  }
}

let clips = 0;

// The shore repeated inwards: wide strokes, line and fill by turns, the innermost first, kept inside by a clip.
function drawInsetShores(group, d, style, view) {
  const id = PATTERN + 'inside-' + (clips += 1);
  draw(draw(group, 'clipPath', { id }), 'path', { d, 'clip-rule': 'evenodd' });
  const inside = draw(group, 'g', { 'clip-path': 'url(#' + id + ')' });
  for (const [away, width] of view.shores.slice().reverse()) {
    draw(inside, 'path', { d, class: 'pen-' + style.line, 'stroke-width': 2 * away + width, 'stroke-linejoin': 'round' });
    draw(inside, 'path', { d, class: 'pen-' + style.fill, 'stroke-width': 2 * away - width, 'stroke-linejoin': 'round' });
  }
}

function drawFigure(pen, figure, drawn, lines, half, view) {
  if (half < (figure.least || 0)) return;
  const size = figure.in_halves ? half : 1;
  const d = figure.strokes.length
    ? figureSpots(figure, drawn, lines, half, view).map((spot) => setDown(figure, spot, size)).join('')
    : lines.map((line) => trace(line)).join('');
  const cap = { 'stroke-linecap': figure.is_round ? 'round' : 'butt' };
  if (figure.edge) pen(d, 'paper', figure.width + figure.edge, cap);
  pen(d, figure.role, figure.width, cap);
}

// Where figures stand: at the thing's places, along its lines, on or around its axis.
function figureSpots(figure, drawn, lines, half, view) {
  const spots = seenSpots(drawn, view).map(([x, y]) => ({ x, y, dx: 1, dy: 0 }));
  const ways = figure.in_halves && drawn.axis ? [pixels(drawn.axis, view)] : lines;
  for (const way of ways) {
    const line = figure.around ? band(way, figure.around * half) : way;
    if (figure.around) line.push(line[0]);
    const long = lengthOf(line);
    if (long >= 12 || !figure.first) spots.push(...placesAlong(line, figurePlaces(figure, long, (drawn.apart || 0) * view.scale)));
  }
  return spots;
}

function figurePlaces(figure, long, apart) {
  if (figure.first) {
    const middle = steps(figure.first, long - (figure.has_end ? 24 : 0), figure.each);
    return figure.has_end ? middle.concat([long]) : middle;
  }
  const count = figure.each ? Math.max(1, Math.round(long / Math.max(figure.each, apart))) : 1;
  return Array.from({ length: count + 1 }, (_, k) => (k * long) / count);
}

function setDown(figure, spot, size) {
  return figure.strokes.map((stroke) => {
    const points = [];
    for (let k = 0; k < stroke.length; k += 2) {
      const [along, right] = [stroke[k] * size, stroke[k + 1] * size];
      points.push([spot.x + along * spot.dx - right * spot.dy, spot.y + along * spot.dy + right * spot.dx]);
    }
    return trace(points);
  }).join('');
}

// A mark as it stands in a legend, 34 by 20.
function drawLegendMark(marks, data) {
  const svg = draw(null, 'svg', { width: 34, height: 20, viewBox: '0 0 34 20', class: 'legend-mark', 'aria-hidden': 'true' });
  drawMarks(svg, marks, { to: (x, y) => [x, 20 - y], scale: 1, isClose: true, pane: [0, 0], size: [34, 20], styles: data.marks, shores: data.shores });
  if (!data.marks[marks[0].mark].line && marks[0].area) draw(svg, 'rect', { x: 1.5, y: 2, width: 31, height: 16, class: 'legend-frame' });
  return svg;
}

function drawYou(group, x, y, radius) {
  const ring = { cx: tenth(x), cy: tenth(y), r: tenth(radius) };
  draw(group, 'circle', Object.assign({ class: 'edge', 'stroke-width': 6 }, ring));
  draw(group, 'circle', Object.assign({ class: 'pen-ink', 'stroke-width': 2, 'stroke-dasharray': '4 3' }, ring));
  draw(group, 'path', { d: 'M' + tenth(x - 5) + ' ' + tenth(y) + 'h10M' + tenth(x) + ' ' + tenth(y - 5) + 'v10', class: 'pen-ink', 'stroke-width': 2.2 });
}
