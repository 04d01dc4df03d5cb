// Marks: how each class is drawn, one function each. Every mark takes (group, mark, view).

const PATTERNS = {
  'stands-5': 'ripples', 'stands-2': 'dots', 'sun-6': 'hatch-11', 'sun-4': 'hatch-6', 'sun-0': 'cross-5',
  'soft-ground': 'hatch-10', soaked: 'hatch-10', 'keep-clear': 'back-hatch-8', path: 'chips', tipping: 'chips', 'wet-planting': 'tufts',
};

function tinted(group, mark, view, d) {
  const data = mark.thing ? { 'data-thing': mark.thing } : {};
  draw(group, 'path', Object.assign({ d, class: 'fill-' + mark.mark, 'fill-rule': 'evenodd' }, data));
  const pattern = PATTERNS[mark.mark];
  if (pattern) {
    draw(group, 'path', { d, fill: 'url(#' + view.prefix + pattern + ')', 'fill-rule': 'evenodd', class: mark.mark === 'soaked' ? 'pattern is-soft' : 'pattern' });
  }
}

function outlined(group, mark, view, d, extra) {
  return draw(group, 'path', Object.assign({
    d, class: 'line-' + mark.mark + (view.chosen && mark.thing === view.chosen ? ' is-chosen' : ''),
  }, extra));
}

function edged(group, d, width) {
  draw(group, 'path', { d, class: 'edge', 'stroke-width': width });
}

function drawBand(group, mark, view) {
  tinted(group, mark, view, traceAreas(mark.area, view));
}

// In an overview the smallest pieces would be specks: they wait until one comes closer.
function isSpeck(points) {
  return Math.abs(signedArea(points)) < 26;
}

function drawShore(group, mark, view) {
  const d = traceAreas(mark.area.filter((rings) => !isSpeck(pixels(rings[0], view))), view);
  tinted(group, mark, view, d);
  if (mark.mark === 'stands-8') drawInsetShores(group, d, view);
  const shore = mark.line.map((ring) => pixels(ring, view)).filter((points) => !isSpeck(points));
  outlined(group, mark, view, shore.map((points) => trace(points, true)).join(''));
}

// The shore repeated inwards: wide strokes, line and fill by turns, the innermost first, kept inside by a clip.
function drawInsetShores(group, d, view) {
  const id = view.prefix + 'inside-' + (view.clips += 1);
  draw(draw(group, 'clipPath', { id }), 'path', { d, 'clip-rule': 'evenodd' });
  const inside = draw(group, 'g', { 'clip-path': 'url(#' + id + ')' });
  for (const [away, width] of view.shores.slice().reverse()) {
    draw(inside, 'path', { d, class: 'pen-water-line', 'stroke-width': 2 * away + width, 'stroke-linejoin': 'round' });
    draw(inside, 'path', { d, class: 'pen-stands-8', 'stroke-width': 2 * away - width, 'stroke-linejoin': 'round' });
  }
}

function drawArea(group, mark, view) {
  const d = traceAreas(mark.area, view);
  if (mark.mark === 'wet-planting' || mark.mark === 'tipping') edged(group, d, 3.6);
  tinted(group, mark, view, d);
  if (mark.bed && view.scale >= PLANTS_FROM) drawPlantedBed(group, mark, view);
  outlined(group, mark, view, d);
}

// The part of a zone that is set out has no tufts: its plants are drawn one by one.
function drawPlantedBed(group, mark, view) {
  draw(group, 'path', { d: traceAreas(mark.bed, view), class: 'fill-' + mark.mark, 'fill-rule': 'evenodd' });
  draw(group, 'path', { d: traceLines(mark.cut, view), class: 'pen-plant-line', 'stroke-width': 1.3, 'stroke-dasharray': '6 3' });
}

function pathBand(mark, view) {
  const half = Math.max(3.2, (mark.across * view.scale) / 2);
  return mark.line.map((line) => trace(band(pixels(line, view), half, false), true)).join('');
}

// Paths run into one another: all their edges first, then all their chips, so that no joint shows.
function drawPaths(group, marks, view) {
  for (const mark of marks) edged(group, pathBand(mark, view), 5.4);
  for (const mark of marks) {
    outlined(group, mark, view, pathBand(mark, view)).style.strokeWidth = view.chosen && mark.thing === view.chosen ? 5 : 2.4;
  }
  for (const mark of marks) tinted(group, mark, view, pathBand(mark, view));
}

function drawMound(group, mark, view) {
  const crest = pixels(mark.line[0], view);
  const half = mark.half * view.scale;
  const d = traceAreas(mark.area, view);
  edged(group, d, 4.4);
  tinted(group, mark, view, d);
  outlined(group, mark, view, d);
  const near = half * 0.52;
  const far = half * 0.86;
  let ticks = '';
  const total = lengthOf(crest);
  const tick = (x, y, nx, ny) => 'M' + tenth(x + nx * near) + ' ' + tenth(y + ny * near) + 'L' + tenth(x + nx * far)
    + ' ' + tenth(y + ny * far);
  const count = Math.max(1, Math.round(total / 6.5));
  for (const spot of placesAlong(crest, steps(0, total, total / count))) {
    ticks += tick(spot.x, spot.y, -spot.dy, spot.dx) + tick(spot.x, spot.y, spot.dy, -spot.dx);
  }
  for (const isEnd of [true, false]) {
    const tip = isEnd ? crest[crest.length - 1] : crest[0];
    const back = isEnd ? crest[crest.length - 2] : crest[1];
    const turn = Math.atan2(tip[1] - back[1], tip[0] - back[0]);
    const fan = Math.max(2, Math.round((Math.PI * near) / 6.5));
    for (let k = 1; k < fan; k += 1) {
      const angle = turn + Math.PI / 2 - (k / fan) * Math.PI;
      ticks += tick(tip[0], tip[1], Math.cos(angle), Math.sin(angle));
    }
  }
  if (half > 5) draw(group, 'path', { d: ticks, class: 'pen-built-line', 'stroke-width': 1 });
  if (view.chosen === mark.thing) drawStakes(group, mark, view);
}

// Stakes of the chosen mound: crosses, each with its letter on the far side from the middle.
function drawStakes(group, mark, view) {
  const spots = mark.stakes.map(([, x, y]) => view.to(x, y));
  const middle = [0, 1].map((k) => spots.reduce((sum, spot) => sum + spot[k], 0) / (spots.length || 1));
  const isRoomy = spots.length > 1 && Math.max(...spots.map((spot) => distance(spot, middle))) > 38;
  mark.stakes.forEach(([label], k) => {
    const [x, y] = spots[k];
    const cross = 'M' + tenth(x - 4.5) + ' ' + tenth(y - 4.5) + 'l9 9M' + tenth(x + 4.5) + ' ' + tenth(y - 4.5) + 'l-9 9';
    edged(group, cross, 4.5);
    draw(group, 'path', { d: cross, class: 'pen-ink', 'stroke-width': 2 });
    if (!isRoomy) return;
    const away = distance([x, y], middle) || 1;
    const letter = label.replace(/^\d+/, '').replace(/\d+$/, '');
    write(group, x + ((x - middle[0]) / away) * 15, y + ((y - middle[1]) / away) * 15, letter, { class: 'name bold middle', dy: '.35em' });
  });
}

function drawHoopHouse(group, mark, view) {
  const d = traceAreas(mark.area, view);
  edged(group, d, 4.4);
  tinted(group, mark, view, d);
  const corners = pixels(mark.area[0][0], view).slice(0, 4);
  if (corners.length === 4) {
    const isTurned = distance(corners[0], corners[1]) < distance(corners[1], corners[2]);
    const [a, b, c, e] = isTurned ? [corners[1], corners[2], corners[3], corners[0]] : corners;
    const count = Math.min(12, Math.max(6, Math.round(distance(a, b) / 11)));
    let bows = '';
    for (let k = 1; k < count; k += 1) {
      const share = k / count;
      bows += trace([
        [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])],
        [e[0] + share * (c[0] - e[0]), e[1] + share * (c[1] - e[1])],
      ]);
    }
    draw(group, 'path', { d: bows, class: 'pen-built-line', 'stroke-width': 1.3 });
  }
  outlined(group, mark, view, d);
}

function drawTrellis(group, mark, view) {
  for (const line of mark.line) {
    const points = pixels(line, view);
    const d = trace(points);
    edged(group, d, 4.4);
    draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
    outlined(group, mark, view, d);
    const total = lengthOf(points);
    const gaps = Math.max(1, Math.min((mark.posts || 2) - 1, Math.floor(total / 13)));
    for (const spot of placesAlong(points, steps(0, total, total / gaps))) {
      draw(group, 'rect', { x: tenth(spot.x - 3), y: tenth(spot.y - 3), width: 6, height: 6, class: 'ink-built-line' });
    }
  }
}

// Single plants, once one is near enough to tell them apart: a ring as wide as the room each gets, or a tuft.
const PLANTS_FROM = 11;
const PLANTS_NAMED_FROM = 24;

// Places of a kind that lie on the screen or one screen beside it, where a drag may bring them.
function plantsInView(mark, view) {
  const [width, height] = view.size;
  return pixels(mark.places, view).filter(([x, y]) => x + view.pane[0] > -width && x + view.pane[0] < 2 * width
    && y + view.pane[1] > -height && y + view.pane[1] < 2 * height);
}

function drawPlants(group, mark, view) {
  if (view.scale < PLANTS_FROM) return;
  const spots = plantsInView(mark, view);
  const radius = tenth(mark.room * view.scale);
  let rings = '';
  let stems = '';
  for (const [x, y] of spots) {
    if (mark.woody) rings += 'M' + tenth(x - radius) + ' ' + tenth(y) + 'a' + radius + ' ' + radius + ' 0 1 0 ' + 2 * radius + ' 0a' + radius + ' ' + radius + ' 0 1 0 ' + -2 * radius + ' 0';
    else if (radius > 4.4) rings += 'M' + tenth(x) + ' ' + tenth(y + 2) + 'v-4m0 4l-2.3 -3m2.3 3l2.3 -3';
    if (mark.woody || radius <= 4.4) stems += 'M' + tenth(x) + ' ' + tenth(y) + 'h0';
  }
  draw(group, 'path', { d: rings, class: mark.woody ? 'line-plants' : 'line-plants is-soft' });
  draw(group, 'path', { d: stems, class: mark.woody ? 'stems' : 'stems is-soft' });
}

function arrowHead(x, y, dx, dy, size) {
  const turn = 0.5;
  const leg = (sign) => {
    const cos = Math.cos(sign * turn);
    const sin = Math.sin(sign * turn);
    return tenth(x - size * (dx * cos - dy * sin)) + ' ' + tenth(y - size * (dx * sin + dy * cos));
  };
  return 'M' + leg(1) + 'L' + tenth(x) + ' ' + tenth(y) + 'L' + leg(-1);
}

function drawFlow(group, mark, view) {
  if (!view.isClose && mark.rank >= view.mostFlows) return;
  const isGuessed = mark.mark === 'runs-guessed';
  const points = pixels(mark.line[0], view);
  const total = lengthOf(points);
  if (total < 12) return;
  const d = trace(points);
  const widest = isGuessed ? 2.2 : Math.max(...mark.width);
  edged(group, d, widest + 2.4);
  draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
  if (isGuessed) outlined(group, mark, view, d);
  else {
    let start = 0;
    for (let k = 1; k < points.length; k += 1) {
      if (mark.width[k] !== mark.width[start] || k === points.length - 1) {
        draw(group, 'path', {
          d: trace(points.slice(start, k + 1)), class: 'line-runs', 'stroke-width': mark.width[start],
          'stroke-linecap': 'round', 'stroke-linejoin': 'round',
        }).style.strokeWidth = mark.width[start];
        start = k;
      }
    }
  }
  const spots = placesAlong(points, steps(isGuessed ? total : 62, Math.max(total - 24, 0), 62).concat([total]));
  for (const spot of spots) {
    const head = arrowHead(spot.x, spot.y, spot.dx, spot.dy, 8.5);
    edged(group, head, 3.6);
    draw(group, 'path', { d: head, class: 'pen-water-line', 'stroke-width': 2, 'stroke-linecap': 'round' });
  }
}

function drawSeen(group, mark, view) {
  const [x, y] = view.to(mark.at[0], mark.at[1]);
  const square = draw(group, 'g', { class: 'seen', 'data-thing': mark.thing });
  draw(square, 'rect', { x: tenth(x - 8), y: tenth(y - 8), width: 16, height: 16, class: 'seen-box' });
  write(square, x, y + 5.2, mark.mark === 'seen-dry' ? 'D' : 'W', { class: 'seen-letter' });
}

// An auger hole: shown near to, since its readings are in its card.
function drawHole(group, mark, view) {
  if (!view.isClose) return;
  const [x, y] = view.to(mark.at[0], mark.at[1]);
  draw(group, 'circle', { cx: tenth(x), cy: tenth(y), r: 5, class: 'tap', 'data-thing': mark.thing });
  draw(group, 'path', { d: 'M' + tenth(x - 5) + ' ' + tenth(y) + 'h10', class: 'pen-ink', 'stroke-width': 1.4 });
}

function drawDrive(group, mark, view) {
  draw(group, 'path', { d: traceAreas(mark.area, view), class: 'touch', 'data-thing': mark.thing });
  draw(group, 'path', { d: traceLines(mark.line, view), class: 'drive' });
}

function drawShadeEdge(group, mark, view) {
  draw(group, 'path', {
    d: traceLines(mark.line, view), class: 'pen-shade-line', 'stroke-width': mark.heavy ? 2 : 1.3,
    'stroke-dasharray': mark.mark === 'shade-edge-guessed' ? '7 4' : '', 'stroke-linejoin': 'round',
  });
}

function drawBuried(group, mark, view) {
  for (const line of mark.line) {
    const points = pixels(line, view);
    const d = trace(points);
    edged(group, d, 6);
    draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
    outlined(group, mark, view, d);
    for (const spot of placesAlong(points, steps(14, lengthOf(points), 28))) {
      const cross = 'M' + tenth(spot.x - 4.5) + ' ' + tenth(spot.y - 4.5) + 'l9 9M' + tenth(spot.x + 4.5) + ' '
        + tenth(spot.y - 4.5) + 'l-9 9';
      draw(group, 'path', { d: cross, class: 'pen-ink', 'stroke-width': 1.8 });
    }
  }
}

function drawTouch(group, mark, view) {
  const isChosen = view.chosen === mark.thing;
  draw(group, 'path', {
    d: traceAreas(mark.area, view), class: isChosen ? 'touch is-chosen' : 'touch', 'data-thing': mark.thing,
  });
}

function drawWater(group, mark, view) {
  const d = traceAreas(mark.area, view);
  draw(group, 'path', { d, class: 'fill-stands-8' });
  draw(group, 'path', { d, class: 'pen-water-line', 'stroke-width': 1.6 });
}

// What stands there already.

function drawBuilding(group, mark, view) {
  const d = traceAreas(mark.area, view);
  draw(group, 'path', { d, class: 'building', 'data-thing': mark.thing });
  const roof = mark.roof.filter((line) => line.length === 4);
  const isOne = roof.length === 1;
  if (isOne || view.isClose) draw(group, 'path', { d: traceLines(roof, view), class: 'pen-ink', 'stroke-width': isOne ? 1.4 : 1 });
}

function drawTree(group, mark, view) {
  const [x, y] = view.to(mark.at[0], mark.at[1]);
  const radius = Math.max(6, mark.radius * view.scale);
  const step = Math.min(11, Math.max(7, radius * 0.42));
  const d = scallops(circlePoints(x, y, radius - step * 0.2, 48), step);
  draw(group, 'path', { d, class: 'tree', 'data-thing': mark.thing });
  draw(group, 'circle', { cx: tenth(x), cy: tenth(y), r: 2, class: 'trunk' });
}

function drawCrowns(group, mark, view) {
  for (const rings of mark.area) {
    draw(group, 'path', { d: scallops(pixels(rings[0], view), 12), class: 'tree', 'data-thing': mark.thing });
  }
}

function drawHedge(group, mark, view) {
  if (!mark.line.length) {
    drawCrowns(group, mark, view);
    return;
  }
  for (const line of mark.line) {
    const points = pixels(line, view);
    const long = lengthOf(points);
    const even = placesAlong(points, steps(0, long, 12)).map((spot) => [spot.x, spot.y]);
    if (even.length < 2) continue;
    const half = 4.5;
    draw(group, 'path', { d: scallops(band(even, half, true), 8.6), class: 'tree', 'data-thing': mark.thing });
    for (const spot of placesAlong(points, steps(18, long - 6, 36))) {
      draw(group, 'circle', { cx: tenth(spot.x), cy: tenth(spot.y), r: 1.3, class: 'trunk' });
    }
  }
}

function drawRoad(group, mark, view) {
  draw(group, 'path', { d: traceAreas(mark.area, view), class: 'road', 'data-thing': mark.thing });
  draw(group, 'path', { d: traceLines(mark.line, view), class: 'pen-ink', 'stroke-width': 1.6 });
}

function drawGate(group, mark, view) {
  for (const line of mark.line) {
    const points = pixels(line, view);
    const ends = [points[0], points[points.length - 1]];
    edged(group, trace(ends), 5);
    draw(group, 'path', { d: trace(ends), class: 'pen-ink', 'stroke-width': 1 });
    for (const [x, y] of ends) {
      draw(group, 'rect', {
        x: tenth(x - 3), y: tenth(y - 3), width: 6, height: 6, class: 'ink-ink', 'data-thing': mark.thing,
      });
    }
  }
}

function drawTap(group, mark, view) {
  const [x, y] = view.to(mark.at[0], mark.at[1]);
  const data = { cx: tenth(x), cy: tenth(y), 'data-thing': mark.thing };
  draw(group, 'circle', Object.assign({ r: mark.mark === 'well' ? 6 : 4.2, class: 'tap' }, data));
  draw(group, 'circle', Object.assign({ r: 1.4, class: 'ink-ink' }, data));
}

function drawFixedPoint(group, mark, view) {
  if (!view.isStaking) return;
  const [x, y] = view.to(mark.at[0], mark.at[1]);
  const d = 'M' + tenth(x) + ' ' + tenth(y - 6) + 'l5.2 9h-10.4z';
  draw(group, 'path', { d, class: 'tap', 'data-thing': mark.thing });
  draw(group, 'circle', { cx: tenth(x), cy: tenth(y), r: 1.2, class: 'ink-ink' });
}

function drawCulvert(group, mark, view) {
  for (const line of mark.line) {
    const points = pixels(line, view);
    const d = trace(points);
    draw(group, 'path', { d, class: 'pen-ink', 'stroke-width': 2, 'stroke-dasharray': '6 5' });
    draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
    const total = lengthOf(points);
    for (const spot of placesAlong(points, [0, total])) {
      const bar = [[spot.x - spot.dy * 9, spot.y + spot.dx * 9], [spot.x + spot.dy * 9, spot.y - spot.dx * 9]];
      draw(group, 'path', { d: trace(bar), class: 'pen-ink', 'stroke-width': 2.6 });
    }
  }
}

function drawDitch(group, mark, view) {
  const d = traceLines(mark.line, view);
  draw(group, 'path', { d, class: 'pen-water-line', 'stroke-width': 4 });
  draw(group, 'path', { d, class: 'pen-paper', 'stroke-width': 2 });
  draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
}

function drawWall(group, mark, view) {
  const d = traceLines(mark.line, view);
  draw(group, 'path', { d, class: 'pen-ink', 'stroke-width': mark.mark === 'kerb' ? 1.2 : 3.4 });
  draw(group, 'path', { d, class: 'touch-line', 'data-thing': mark.thing });
}

function drawOpenWater(group, mark, view) {
  const d = traceAreas(mark.area, view);
  draw(group, 'path', { d, class: 'fill-stands-8', 'data-thing': mark.thing });
  if (d) drawInsetShores(group, d, view);
  draw(group, 'path', { d: d || traceLines(mark.line, view), class: 'pen-water-line', 'stroke-width': 2.2 });
}

function drawBed(group, mark, view) {
  draw(group, 'path', { d: traceAreas(mark.area, view), class: 'bed', 'data-thing': mark.thing });
}

function drawBoundary(group, mark, view) {
  outlined(group, mark, view, traceAreas(mark.area, view));
}

const MARKS = {
  'stands-8': drawShore, 'stands-5': drawShore, 'stands-2': drawShore, runs: drawFlow, 'runs-guessed': drawFlow,
  'seen-wet': drawSeen, 'seen-dry': drawSeen, 'sun-8': drawBand, 'sun-6': drawBand, 'sun-4': drawBand,
  'sun-0': drawBand, 'shade-edge': drawShadeEdge, 'shade-edge-guessed': drawShadeEdge, mound: drawMound,
  'hoop-house': drawHoopHouse, trellis: drawTrellis, 'wet-planting': drawArea, water: drawWater,
  'keep-clear': drawArea, tipping: drawArea, 'soft-ground': drawArea, 'stake-out': drawArea, buried: drawBuried,
  touch: drawTouch, plants: drawPlants, building: drawBuilding, tree: drawTree, crowns: drawCrowns, hedge: drawHedge, road: drawRoad, drive: drawDrive, hole: drawHole, soaked: drawArea,
  gate: drawGate, tap: drawTap, well: drawTap, 'fixed-point': drawFixedPoint, culvert: drawCulvert, ditch: drawDitch,
  wall: drawWall, kerb: drawWall, 'open-water': drawOpenWater, bed: drawBed, boundary: drawBoundary,
};

function drawMark(group, mark, view) {
  const hand = MARKS[mark.mark];
  if (hand) hand(group, mark, view);
}

// A mark as it stands in a legend, 32 by 18.
function drawLegendMark(mark, prefix, shores) {
  const svg = draw(null, 'svg', { width: 34, height: 20, viewBox: '0 0 34 20', class: 'legend-mark', 'aria-hidden': 'true' });
  const box = { x: 1.5, y: 2, width: 31, height: 16 };
  const tint = (name) => {
    draw(svg, 'rect', Object.assign({ class: 'fill-' + name }, box));
    if (PATTERNS[name]) draw(svg, 'rect', Object.assign({ fill: 'url(#' + prefix + PATTERNS[name] + ')' }, box));
  };
  const round = (extra) => Object.assign({}, box, { rx: 1.5 }, extra);
  if (mark === 'runs' || mark === 'runs-guessed') {
    const d = mark === 'runs' ? 'M2 15C9 16 12 7 31 6' : 'M2 10H31';
    draw(svg, 'path', { d, class: 'line-' + mark }).style.strokeWidth = 2.2;
    const head = mark === 'runs' ? arrowHead(32, 6, 1, -0.05, 8) : arrowHead(32, 10, 1, 0, 8);
    draw(svg, 'path', { d: head, class: 'pen-water-line', 'stroke-width': 2, 'stroke-linecap': 'round' });
  } else if (mark.startsWith('seen-')) {
    const letters = mark === 'seen-both' ? ['W', 'D'] : mark === 'seen-wet' ? ['W'] : ['D'];
    letters.forEach((letter, k) => {
      const x = letters.length > 1 ? 0.5 + 17 * k : 9;
      draw(svg, 'rect', { x, y: 2, width: 16, height: 16, class: 'seen-box' });
      write(svg, x + 8, 15.2, letter, { class: 'seen-letter' });
    });
  } else if (mark === 'shade-edge' || mark === 'shade-edge-guessed') {
    const dashes = mark === 'shade-edge' ? '' : '7 4';
    draw(svg, 'path', { d: 'M1 10H33', class: 'pen-shade-line', 'stroke-width': 2.2, 'stroke-dasharray': dashes });
  } else if (mark === 'mound') {
    draw(svg, 'rect', Object.assign({ class: 'fill-mound' }, box, { rx: 8 }));
    let ticks = '';
    for (const x of steps(9, 25, 4)) ticks += 'M' + x + ' 4.5v3.4M' + x + ' 12.1v3.4';
    draw(svg, 'path', { d: ticks, class: 'pen-built-line', 'stroke-width': 1 });
    draw(svg, 'rect', Object.assign({ class: 'line-mound' }, box, { rx: 8 }));
  } else if (mark === 'hoop-house') {
    draw(svg, 'rect', Object.assign({ class: 'fill-hoop-house' }, box));
    draw(svg, 'path', { d: 'M6.7 2v16M11.8 2v16M17 2v16M22.2 2v16M27.3 2v16', class: 'pen-built-line', 'stroke-width': 1.3 });
    draw(svg, 'rect', Object.assign({ class: 'line-hoop-house' }, box));
  } else if (mark === 'trellis') {
    draw(svg, 'path', { d: 'M3 10H31', class: 'line-trellis' });
    for (const x of [0.5, 9.8, 19, 28.3]) draw(svg, 'rect', { x, y: 7.2, width: 5.4, height: 5.4, class: 'ink-built-line' });
  } else if (mark === 'path' || mark === 'tipping') {
    const slim = { x: 1.5, y: 5, width: 31, height: 10 };
    draw(svg, 'rect', Object.assign({ class: 'fill-' + mark }, slim));
    draw(svg, 'rect', Object.assign({ fill: 'url(#' + prefix + 'chips)' }, slim));
    draw(svg, 'rect', Object.assign({ class: 'line-' + mark }, slim));
  } else if (mark === 'stake-out') {
    draw(svg, 'rect', Object.assign({ class: 'line-stake-out' }, box, { rx: 8 }));
  } else if (mark === 'buried') {
    draw(svg, 'path', { d: 'M1 10H33', class: 'line-buried' });
    draw(svg, 'path', { d: 'M12.5 5.5l9 9M21.5 5.5l-9 9', class: 'pen-ink', 'stroke-width': 1.8 });
  } else if (mark === 'job') {
    draw(svg, 'rect', { x: 4, y: 1.5, width: 26, height: 17, rx: 8.5, class: 'ring-shape' });
    write(svg, 17, 15, '1', { class: 'ring-number' });
  } else if (mark === 'you') {
    drawYou(svg, 17, 10, 8.5);
  } else {
    tint(mark);
    if (mark === 'stands-8') {
      draw(svg, 'rect', { x: 5.5, y: 6, width: 23, height: 8, class: 'pen-water-line', 'stroke-width': 1 });
      draw(svg, 'rect', { x: 9.5, y: 9.4, width: 15, height: 1.2, class: 'pen-water-line', 'stroke-width': 0.8 });
    }
    const line = mark.startsWith('sun-') ? 'legend-frame' : 'line-' + mark;
    draw(svg, 'rect', round({ class: line }));
  }
  return svg;
}

function drawYou(group, x, y, radius) {
  const ring = { cx: tenth(x), cy: tenth(y), r: tenth(radius) };
  draw(group, 'circle', Object.assign({ class: 'edge', 'stroke-width': 6 }, ring));
  draw(group, 'circle', Object.assign({ class: 'pen-ink', 'stroke-width': 2, 'stroke-dasharray': '4 3' }, ring));
  draw(group, 'path', { d: 'M' + tenth(x - 5) + ' ' + tenth(y) + 'h10M' + tenth(x) + ' ' + tenth(y - 5) + 'v10', class: 'pen-ink', 'stroke-width': 2.2 });
}
