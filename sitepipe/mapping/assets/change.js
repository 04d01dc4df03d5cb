// Trying a change: works drawn, dragged, turned, raised or left out by finger, mouse or keyboard, and what comes of it.

const LEAST_WATER = 0.01;
const LEAST_RISE = 0.001;

function makeChange(map, data, reader, speech, page) {
  const told = data.trying;
  const words = told.words;
  const isImperial = data.units === 'imperial';
  const step = isImperial ? 152 : 250;
  const layer = map.createPane('trying');
  const svg = draw(layer, 'svg', { class: 'drawing', 'aria-hidden': 'true', focusable: 'false' });
  const gripPane = map.createPane('grips');
  const bar = document.getElementById('trying');
  const tried = document.getElementById('tried');
  let ground = null;
  let works = [];
  let past = [];
  let found = null;
  let chosen = null;
  let pen = null;
  let isThen = true;
  let isOn = false;
  let drag = null;
  let water = [];

  const said = (pattern, values) => words[pattern].replace(/\{(\w+)\}/g, (_, key) => values[key]);
  const grouped = (count) => count.toLocaleString('en-US');
  const chosenWork = () => works.find((work) => work.name === chosen);
  const copyOf = (list) => list.map((work) => Object.assign({}, work, { pieces: work.pieces.map((piece) => piece.slice()) }));

  async function begin() {
    try {
      ground = ground || await openTrialGround(told);
    } catch (problem) {
      return false;
    }
    isOn = true;
    works = works.length ? works : copyOf(told.planned);
    bar.hidden = false;
    document.body.classList.add('is-trying');
    settle();
    return true;
  }

  function end() {
    isOn = false;
    pen = null;
    chosen = null;
    bar.hidden = true;
    document.body.classList.remove('is-trying');
    svg.textContent = '';
    gripPane.textContent = '';
  }

  // The change made: everything is run again, drawn and said.
  function settle() {
    found = weighChange(ground, ground.before, rowsOf(told, ground, works));
    water = drawnWater();
    page.show();
    tried.textContent = inShort() + ' ' + standingSaid();
  }

  function remember() {
    past.push(copyOf(works));
  }

  function change(make) {
    remember();
    make();
    settle();
  }

  function back() {
    if (pen) pen = null;
    else if (past.length) works = past.pop();
    if (!chosenWork()) chosen = null;
    settle();
  }

  // Water as it stands now, what would be more and what would be less, as marks.
  function drawnWater() {
    const last = ground.before.depths.length - 1;
    const [now, then] = [ground.before.depths[last], found.after.depths[last]];
    const mark = (name, isIn) => {
      const mask = new Uint8Array(now.length);
      for (let cell = 0; cell < mask.length; cell += 1) mask[cell] = isIn(cell) ? 1 : 0;
      const rings = ringsAround(told, mask);
      return { mark: name, area: rings.length ? [rings] : [] };
    };
    const stood = (cell) => now[cell] >= LEAST_WATER;
    const stands = (cell) => then[cell] >= LEAST_WATER && !found.changed[cell];
    const isMore = (cell) => stands(cell) && then[cell] - now[cell] > told.tell / 2;
    if (!isThen) return [mark('water', stood)];
    return [
      mark('water', (cell) => stood(cell) && stands(cell) && !isMore(cell)),
      mark('water-more', (cell) => isMore(cell) || (stands(cell) && !stood(cell))),
      mark('water-less', (cell) => stood(cell) && !stands(cell) && !found.changed[cell]),
    ];
  }

  const markOf = { mound: 'mound', path: 'path', swale: 'ditch', pad: 'hoop-house', pile: 'tipping' };

  // Pieces that follow one another are one line, so that no joint shows.
  function linesOf(work) {
    const lines = [];
    for (const piece of work.pieces.map((one) => one.map((value) => value / 1000))) {
      const last = lines[lines.length - 1];
      if (last && last[last.length - 2] === piece[0] && last[last.length - 1] === piece[1]) last.push(piece[2], piece[3]);
      else lines.push(piece.slice());
    }
    return lines;
  }

  function drawnWork(work) {
    const lines = linesOf(work);
    const half = reachOf(work);
    if (work.isOut) return { mark: 'bed', area: outlineInMetres(work).map((ring) => [ring]) };
    const proposed = markOf[work.kind] + '-proposed';
    const shape = { mark: work.isTried || !data.marks[proposed] ? markOf[work.kind] : proposed, thing: 'trying-' + work.name, half };
    if (work.kind === 'path' || work.kind === 'swale') return Object.assign(shape, { line: lines });
    return Object.assign(shape, { area: outlineInMetres(work).map((ring) => [ring]), axis: lines[0] });
  }

  function redraw(view) {
    const held = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.grip : undefined;
    svg.textContent = '';
    gripPane.textContent = '';
    if (!isOn) return;
    drawMarks(svg, water, view);
    drawMarks(svg, works.map(drawnWork), Object.assign({}, view, { chosen: 'trying-' + chosen }));
    if (isThen && found) nameWater(view);
    if (chosenWork() && !chosenWork().isOut) drawGrips(view, chosenWork(), held);
    if (pen && pen.start) draw(svg, 'circle', Object.assign({ r: 6, class: 'tap' }, atPixel(view, pen.start.map((value) => value / 1000))));
  }

  function atPixel(view, [x, y]) {
    const [cx, cy] = view.to(x, y);
    return { cx: tenth(cx), cy: tenth(cy) };
  }

  // How much higher or lower the water stands, beside where it changes most.
  function nameWater(view) {
    const last = ground.before.depths.length - 1;
    const everywhere = new Uint8Array(found.changed.length).fill(1);
    const [highest, high, lowest, low] = extreme_rises(ground.before.depths[last], found.after.depths[last], found.changed, everywhere);
    for (const [rise, cell, word] of [[highest, high, ' higher'], [lowest, low, ' lower']]) {
      if (Math.abs(rise) < Math.max(told.tell, LEAST_RISE)) continue;
      const { cx, cy } = atPixel(view, cellPlace(told, cell));
      write(svg, cx, cy - 10, speech.rise(Math.abs(rise)) + word, { class: 'name grown middle' });
    }
  }

  // Grips: both ends and the middle, 44 px for a finger, arrow keys for who has none.
  function drawGrips(view, work, held) {
    if (work.pieces.length > 1) return;
    const [x0, y0, x1, y1] = work.pieces[0].map((value) => value / 1000);
    const ends = view.to(x0, y0).concat(view.to(x1, y1));
    const long = Math.hypot(ends[2] - ends[0], ends[3] - ends[1]) || 1;
    const out = reachOf(work) * view.scale + 16 + 13;
    const way = [(ends[2] - ends[0]) / long, (ends[3] - ends[1]) / long];
    const spots = [
      ['start', ends[0] - way[0] * out, ends[1] - way[1] * out, ends[0], ends[1]],
      ['end', ends[2] + way[0] * out, ends[3] + way[1] * out, ends[2], ends[3]],
      ['whole', (ends[0] + ends[2]) / 2, (ends[1] + ends[3]) / 2, null, null],
    ];
    for (const [part, x, y, fromX, fromY] of spots) {
      if (fromX !== null) {
        draw(svg, 'path', { d: trace([[fromX, fromY], [x, y]]), class: 'edge', 'stroke-width': 5 });
        draw(svg, 'path', { d: trace([[fromX, fromY], [x, y]]), class: 'pen-ink', 'stroke-width': 2 });
      }
      const grip = put(gripPane, 'button', 'grip' + (part === 'whole' ? ' is-whole' : ''));
      grip.type = 'button';
      grip.dataset.grip = part;
      const named = { start: 'First end', end: 'Other end', whole: 'The whole' }[part];
      grip.setAttribute('aria-label', named + ' of ' + title(work) + ', ' + whereIs(data.start, speech, ...place(work, part)) + '. Arrow keys move it ' + speech.tape(step / 1000) + '.');
      put(grip, 'span', '');
      grip.style.left = tenth(x) + 'px';
      grip.style.top = tenth(y) + 'px';
      L.DomEvent.disableClickPropagation(grip);
      grip.addEventListener('keydown', (event) => nudge(event, part));
      if (part === held) grip.focus({ preventScroll: true });
    }
  }

  function place(work, part) {
    const [x0, y0, x1, y1] = work.pieces[0].map((value) => value / 1000);
    return { start: [x0, y0], end: [x1, y1], whole: [(x0 + x1) / 2, (y0 + y1) / 2] }[part];
  }

  function moved(piece, part, dx, dy) {
    const shift = { start: [dx, dy, 0, 0], end: [0, 0, dx, dy], whole: [dx, dy, dx, dy] }[part];
    return piece.map((value, k) => Math.round(value + shift[k]));
  }

  function nudge(event, part) {
    const by = event.shiftKey ? Math.round(step / 5) : step;
    const way = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, by], ArrowDown: [0, -by] }[event.key];
    if (!way) return;
    event.preventDefault();
    event.stopPropagation();
    change(() => {
      const work = chosenWork();
      work.pieces = work.pieces.map((piece) => moved(piece, part, ...way));
      work.isTried = true;
    });
  }

  // The pointer is held by the layer: a grip that is drawn anew under a finger would lose it.
  gripPane.addEventListener('pointerdown', (event) => {
    const grip = event.target.closest('.grip');
    if (!grip) return;
    event.preventDefault();
    event.stopPropagation();
    gripPane.setPointerCapture(event.pointerId);
    map.dragging.disable();
    remember();
    drag = { part: grip.dataset.grip, x: event.clientX, y: event.clientY, pieces: copyOf([chosenWork()])[0].pieces };
  });
  gripPane.addEventListener('pointermove', (event) => {
    if (!drag) return;
    const scale = map.options.crs.scale(map.getZoom());
    const work = chosenWork();
    work.pieces = drag.pieces.map((piece) => moved(piece, drag.part, ((event.clientX - drag.x) / scale) * 1000, (-(event.clientY - drag.y) / scale) * 1000));
    work.isTried = true;
    document.body.classList.add('is-dragging');
    page.redraw();
    page.say(figures(work));
  });
  const drop = () => {
    if (!drag) return;
    drag = null;
    document.body.classList.remove('is-dragging');
    map.dragging.enable();
    settle();
  };
  gripPane.addEventListener('pointerup', drop);
  gripPane.addEventListener('pointercancel', drop);

  // A tap on the map: an end of what is being drawn, else the work under it.
  function press(x, y) {
    const here = [Math.round(x * 1000), Math.round(y * 1000)];
    if (pen && !pen.start) {
      pen.start = here;
      page.show();
    } else if (pen) {
      finish(pen.start.concat(here));
    } else {
      const under = works.filter((work) => outlineInMetres(work).some((ring) => isInside(ring, x, y)));
      chosen = under.length ? under[under.length - 1].name : null;
      page.show();
    }
  }

  function finish(piece) {
    const { kind } = pen;
    pen = null;
    const [rise, half, slope] = told.sizes[kind];
    const used = works.filter((work) => !work.thing).map((work) => Number((work.name.match(/\d+$/) || [0])[0]));
    const name = 'new ' + kind + ' ' + (Math.max(0, ...used) + 1);
    change(() => {
      works.push({ name, kind, shape: told.shapes[kind], pieces: [piece], rise, half, slope, isTried: true });
      chosen = name;
    });
    gripPane.querySelector('[data-grip=whole]').focus({ preventScroll: true });
  }

  function inTheMiddle() {
    const { lng, lat } = map.getCenter();
    const [x, y] = [Math.round(lng * 1000), Math.round(lat * 1000)];
    finish([x - 2500, y, x + 2500, y]);
  }

  // What is said.

  const title = (work) => work.name.replace(/^./, (sign) => sign.toUpperCase());
  // In acres from half an acre on; what it is set against may hold both to the smaller unit.
  const area = (squareMetres, against = squareMetres) => {
    if (!isImperial) return grouped(Math.round(squareMetres)) + ' m²';
    const feet = squareMetres / 0.09290304;
    return Math.min(feet, against / 0.09290304) >= 21780 ? (feet / 43560).toFixed(1) + ' acres' : grouped(Math.round(feet / 10) * 10) + ' sq ft';
  };
  const volume = (cubicMetres) => {
    const count = cubicMetres / (isImperial ? 0.764554857984 : 1);
    const halves = count < 9.75 ? Math.round(count * 2) / 2 : Math.round(count);
    return (halves % 1 ? (Math.floor(halves) || '') + '½' : halves || 'under ½') + ' ' + (isImperial ? 'cu yd' : 'm³');
  };
  const counted = (count, one, many) => said(count === 1 ? one : many, { count: grouped(count) });

  function figures(work) {
    return title(work) + ': ' + speech.tape(Math.hypot(work.pieces[0][2] - work.pieces[0][0], work.pieces[0][3] - work.pieces[0][1]) / 1000 + 2 * (work.kind === 'pad' ? 0 : reachOf(work)))
      + ' long, ' + volume(volumeOf(told, ground, work));
  }

  const isFault = (rise) => rise.height > told.rise;

  function riseSaid(rise) {
    const values = { height: speech.rise(Math.abs(rise.height)), tell: speech.rise(told.tell), rain: told.rain[rise.storm] };
    if (Math.abs(rise.height) < LEAST_RISE) return words.same;
    if (rise.height < 0) return said('falls', values);
    if (rise.height < told.tell && !isFault(rise)) return said('untold', values);
    const rises = said('rises', Object.assign(values, { where: whereIs(data.start, speech, ...cellPlace(told, rise.cell)) }));
    return isFault(rise) ? said('fails', { rises }) : rises;
  }

  function houseAndRoad() {
    const parts = [];
    if (ground.places[1].includes(1)) parts.push(said('at_house', { said: riseSaid(found.rises[1]) }));
    if (ground.places[2].includes(1)) parts.push(said('on_road', { said: riseSaid(found.rises[2]) }));
    return parts.join(' ') || words.no_house;
  }

  function outletsSaid() {
    if (!found.outlets.length) return words.no_outlet;
    return found.outlets.map((one) => {
      const where = whereIs(data.start, speech, told.middles[2 * one.piece], told.middles[2 * one.piece + 1]);
      const outlet = said('outlet', { where, area: area(one.area, one.was), was: area(one.was, one.area) });
      return one.area > told.failsFrom * one.was ? said('outlet_fails', { outlet }) : outlet;
    }).join(' ');
  }

  function standingSaid() {
    const [[before, deepBefore], [after, deepAfter]] = found.standing;
    const more = deepAfter - deepBefore;
    const wider = (after - before) * told.area;
    const deeper = Math.abs(more) < Math.max(told.tell / 2, LEAST_RISE) ? words.no_deeper : said(more > 0 ? 'deeper' : 'shallower', { height: speech.rise(Math.abs(more)) });
    const spread = Math.abs(wider) < 1 ? words.no_wider : said(wider > 0 ? 'wider' : 'narrower', { area: area(Math.abs(wider)) });
    return said('standing', { rain: told.rain[told.rain.length - 1], spread, deeper });
  }

  function rootsSaid(work) {
    if (work.kind !== 'mound') return words.not_for_roots;
    const depth = reader.valuesAt(...place(work, 'whole')).find((value) => value.name === 'water_table_depth');
    if (!depth) return words.no_roots;
    const settled = (work.rise / 10000) * (1 - told.sizes.settlement);
    const deep = deepestBeside(told, found.after.depths[found.after.depths.length - 1], found.changed, work);
    const pooled = deep < LEAST_WATER ? '' : ' ' + said('pooled', { rain: told.rain[told.rain.length - 1], height: speech.rise(deep) });
    const wants = told.crops.map(([crops, roots]) => said('want', { crops, roots: speech.tape(roots) })).join(', ');
    return said('roots', { height: speech.size(Math.max(settled + depth.value - told.sizes.fringe, 0)), settled: speech.size(settled), wants }) + pooled;
  }

  function sunSaid(work) {
    if (work.kind === 'swale' || !data.horizons.arcs) return words.no_shade;
    const taken = hoursTaken(work, data.horizons).map(({ day, hours: lost }) => said('shade_in', { day, hours: lost ? said(lost > 1 ? 'hours' : 'hour', { count: halves(lost) }) : words.no_hours }));
    const shade = said('shade', { way: data.horizons.isSouthern ? 'south' : 'north', taken: taken.join(', ') });
    const hours = reader.sunAt(...place(work, 'whole'));
    if (!hours || hours[told.month] === null) return shade;
    return said('sun', { hours: halves(hours[told.month]) + ' hours', month: told.months[told.month], shade });
  }

  function loadsSaid(work) {
    const size = volumeOf(told, ground, work);
    const wheeled = Math.ceil(size / told.barrow - 1e-9);
    const barrows = counted(wheeled < 20 ? wheeled : 10 * Math.round(wheeled / 10), 'barrow', 'barrows');
    if (work.kind === 'swale') return said('cut', { volume: volume(size), barrows });
    const [x, y] = place(work, 'whole');
    const way = told.tip.length ? said('from_tip', { far: speech.far(distance(told.tip[0], [x, y])) }) : words.no_tip;
    return said('fill', { volume: volume(size), loads: counted(Math.max(1, Math.ceil(size / told.load)), 'load', 'loads'), barrows, way });
  }

  function nearSaid(work) {
    const near = nearThings(told, work);
    if (!near.length) return words.kept;
    return near.slice(0, 4).map(({ thing, rule, far }) => said(far > 0 ? 'near' : 'on', { far: speech.tape(far), thing: thing.name, rule: speech.tape(rule), care: thing.care })).join(' ');
  }

  // What a tried work lies on: a hazard, or another work that its middle line crosses.
  function liesOn(work) {
    const isCrossed = (other) => linesOf(work).some((line) => outlineInMetres(other).some((ring) => apartFrom(ring, line, false) === 0));
    const others = works.filter((other, k) => !other.isOut && (!other.isTried || k < works.indexOf(work)) && !(work.kind === 'path' && other.kind === 'path') && isCrossed(other));
    const things = nearThings(told, work).filter(({ far }) => far === 0).map(({ thing }) => thing.name).concat(others.map((other) => other.name));
    return things.length ? said('lies', { work: title(work), things: joined(things) }) + ' ' : '';
  }

  function inShort() {
    return works.filter((work) => work.isTried && !work.isOut).map(liesOn).join('') + waterInShort();
  }

  function waterInShort() {
    const isBad = found.rises.some(isFault) || found.outlets.some((one) => one.area > told.failsFrom * one.was);
    const isMore = found.outlets.length > 0 || found.rises.some((rise) => rise.height >= LEAST_RISE);
    return words[isBad ? 'pushes' : isMore ? 'slight' : 'harmless'];
  }

  function parts(work) {
    const list = [['Next door.', riseSaid(found.rises[0])], ['House and road.', houseAndRoad()], ['Outlets.', outletsSaid()], ['Standing water now and then.', standingSaid()]];
    if (work && !work.isOut && work.kind !== 'pile') list.push(['Roots.', rootsSaid(work)], ['Sun.', sunSaid(work)]);
    if (work && !work.isOut) list.push(['Loads and barrows.', loadsSaid(work)], ['Nearer than its rule.', nearSaid(work)]);
    if (told.coarse) list.push(['How fine.', said('coarse', { cell: told.coarse[0], full: told.coarse[1] })]);
    return list;
  }

  // The card.

  function head() {
    const work = chosenWork();
    if (pen) return ['Where does it go?', 'Not now', () => { pen = null; page.show(); }];
    if (!work) return ['Try a change', 'Done', page.leave];
    if (work.isOut) return [title(work) + ', left out', 'Bring it back', () => change(() => { work.isOut = false; })];
    return [title(work) + (work.isTried ? ', being tried' : ', proposed'), 'Leave it out', () => change(() => {
      if (work.thing) work.isOut = true;
      else works = works.filter((one) => one !== work);
      if (!work.thing) chosen = null;
    })];
  }

  function fill(body) {
    body.textContent = '';
    const work = chosenWork();
    const hint = pen ? (pen.start ? 'Now tap the other end.' : 'Tap one end on the map, then the other.')
      : work ? (work.isOut ? 'The water runs as if it were not there.' : work.pieces.length > 1 ? 'It has bends: it can be left out, not moved.' : 'Drag its middle to move it, an end to turn it.') : 'Add one of these, or tap one that is proposed.';
    put(body, 'p', 'caption', hint);
    const row = put(body, 'div', 'kinds');
    if (pen) button(row, 'tool', 'Put it in the middle of the map', inTheMiddle).dataset.key = pen.kind;
    else for (const kind of ['mound', 'path', 'swale', 'pad']) {
      button(row, 'tool', kind.replace(/^./, (sign) => sign.toUpperCase()), () => { pen = { kind, start: null }; chosen = null; page.show(); }).dataset.key = kind;
    }
    if (pen) return;
    put(body, 'p', 'answer', inShort());
    if (work && !work.isOut && work.pieces.length === 1 && work.kind !== 'pile') showSizes(body, work);
    else showLegend(body);
    for (const [name, text] of parts(work)) showPart(body, { head: name, text });
    if (work && !work.isOut) showLegend(body);
    const caution = put(body, 'p', 'caution');
    put(caution, 'b', '', 'Caution. ');
    caution.appendChild(document.createTextNode(words.caution));
    showPlanned(body);
    showPaper(body);
  }

  function showPlanned(body) {
    for (const [head, list] of [[words.own, works.filter((work) => !work.thing)], [words.proposed, works.filter((work) => work.thing)]]) {
      if (!list.length) continue;
      put(body, 'p', 'caption', head);
      const row = put(body, 'div', 'kinds');
      for (const work of list) button(row, 'tool', title(work) + (work.isOut ? ', left out' : ''), () => { chosen = work.name; page.show(); }).dataset.key = work.name;
    }
  }

  function showLegend(body) {
    const legend = put(body, 'ul', 'legend');
    for (const entry of told.legend) {
      const item = put(legend, 'li');
      item.appendChild(drawLegendMark(entry.marks, data));
      put(item, 'span', '', entry.text);
    }
    legend.style.setProperty('--rows', Math.ceil(told.legend.length / 2));
  }

  function showSizes(body, work) {
    const list = put(body, 'dl', 'numbers sizes');
    const by = isImperial ? 254 : 200;
    const sized = (label, text, key, less, more) => {
      const cell = put(list, 'div');
      put(cell, 'dt', '', label);
      put(cell, 'dd', '', text);
      const pair = put(cell, 'dd', 'pair');
      for (const [sign, word, make] of [['−', 'less', less], ['+', 'more', more]]) {
        const one = button(pair, '', sign, () => change(() => { make(); work.isTried = true; }));
        one.setAttribute('aria-label', label + ', ' + word);
        one.dataset.key = key + word;
      }
    };
    sized(work.kind === 'swale' ? 'Depth' : 'Height', speech.size(work.rise / 10000), 'rise', () => { work.rise = Math.max(work.rise - by * (work.kind === 'mound' ? 2 : 1), by); }, () => { work.rise = Math.min(work.rise + by * (work.kind === 'mound' ? 2 : 1), 20000); });
    const wide = isImperial ? 76 : 50;
    sized(work.kind === 'mound' ? 'Width on top' : 'Width', speech.size((2 * work.half) / 1000), 'half', () => { work.half = Math.max(work.half - wide, wide); }, () => { work.half = Math.min(work.half + wide, 10000); });
    if (work.slope > 0) sized('Sides, out to up', halves(work.slope) + ' to 1', 'slope', () => { work.slope = Math.max(work.slope - 0.5, 0.5); }, () => { work.slope = Math.min(work.slope + 0.5, 5); });
    showPlace(body, work);
  }

  const between = (value, least, most) => Math.min(Math.max(value, least), most);
  const onHeights = (x, y) => [
    between(x, -told.right, told.columns * told.cell - told.right),
    between(y, told.down - told.rows * told.cell, told.down),
  ];

  // Where it lies in numbers: way from the named point, length, direction. They may be typed.
  function showPlace(body, work) {
    const size = isImperial ? 304.8 : 1000;
    const line = put(body, 'p', 'typed');
    const [x0, y0, x1, y1] = work.pieces[0];
    const long = Math.hypot(x1 - x0, y1 - y0);
    const turn = ((Math.atan2(x1 - x0, y1 - y0) * 180) / Math.PI + 360) % 360;
    const values = { north: (y0 - 1000 * data.start.at[1]) / size, east: (x0 - 1000 * data.start.at[0]) / size, long: long / size, turn };
    const typed = (key, after, label) => {
      const box = put(line, 'input');
      box.type = 'number';
      box.step = key === 'turn' ? 1 : 0.5;
      box.value = tenth(values[key]);
      box.dataset.key = key;
      box.setAttribute('aria-label', label);
      line.appendChild(document.createTextNode(' ' + after + ' '));
      box.addEventListener('change', () => {
        const value = parseFloat(box.value);
        if (Number.isFinite(value)) values[key] = value;
        const length = between(values.long * size, 500, 1000 * Math.hypot(...data.frame));
        const from = onHeights(1000 * data.start.at[0] + values.east * size, 1000 * data.start.at[1] + values.north * size);
        const way = [Math.sin((values.turn * Math.PI) / 180), Math.cos((values.turn * Math.PI) / 180)];
        // Only when the focus has gone where it goes: the boxes are made anew.
        setTimeout(() => change(() => {
          work.pieces = [from.concat(onHeights(from[0] + way[0] * length, from[1] + way[1] * length)).map(Math.round)];
          work.isTried = true;
        }));
      });
    };
    const unit = isImperial ? 'ft' : 'm';
    typed('north', unit + ' north,', 'Its first end, north of ' + data.start.name);
    typed('east', unit + ' east of ' + data.start.name + ';', 'Its first end, east of ' + data.start.name);
    typed('long', unit + ' long,', 'Length between its ends');
    typed('turn', '° from north.', 'Direction, degrees from north');
  }

  const saved = () => savedChange(told, ground, data.name, works, found);

  function asText() {
    const changed = works.filter((work) => work.isTried || work.isOut);
    const lines = changed.map((work) => (work.isOut ? title(work) + ': left out.' : figures(work) + ', ' + speech.size(work.rise / 10000) + (work.kind === 'swale' ? ' deep, ' : ' high, ')
      + 'its first end ' + whereIs(data.start, speech, ...place(work, 'start')) + ', the other ' + whereIs(data.start, speech, ...place(work, 'end')) + '.'));
    return [data.name + ', a change tried on the map' + (data.made ? ' of ' + data.made : '') + '.', ...lines, inShort(), ...parts(null).map(([name, text]) => name + ' ' + text), words.caution].join('\n');
  }

  function showPaper(body) {
    const tools = put(body, 'div', 'tool-list');
    button(tools, 'tool', 'Save the change', () => {
      const link = document.createElement('a');
      link.href = URL.createObjectURL(new Blob([JSON.stringify(saved(), null, 1)], { type: 'application/geo+json' }));
      link.download = 'change.geojson';
      link.click();
      URL.revokeObjectURL(link.href);
    }).dataset.key = 'save';
    const copy = button(tools, 'tool', 'Copy as text', async () => {
      const text = asText();
      try {
        await navigator.clipboard.writeText(text);
        copy.textContent = 'Copied';
      } catch (problem) {
        const box = put(null, 'textarea', 'as-text', text);
        box.readOnly = true;
        box.setAttribute('aria-label', 'The change as text, to copy');
        copy.after(box);
        box.select();
      }
    });
    copy.dataset.key = 'copy';
    const label = put(tools, 'label', 'tool', 'Open a saved change');
    const file = put(label, 'input', 'hidden');
    file.type = 'file';
    file.accept = '.geojson,.json';
    file.addEventListener('change', async () => {
      try {
        const opened = openedChange(told, await file.files[0].text());
        change(() => { works = opened; });
      } catch (problem) {
        label.firstChild.textContent = 'That file holds no saved change';
      }
    });
  }

  bar.querySelector('.trying-back').addEventListener('click', back);
  bar.querySelector('.trying-end').addEventListener('click', () => page.leave());
  for (const [name, isAfter] of [['.trying-now', false], ['.trying-then', true]]) {
    bar.querySelector(name).addEventListener('click', () => {
      isThen = isAfter;
      bar.querySelector('.trying-now').setAttribute('aria-pressed', String(!isAfter));
      bar.querySelector('.trying-then').setAttribute('aria-pressed', String(isAfter));
      water = drawnWater();
      page.redraw();
    });
  }

  // What is drawn below it: the view of what is built, without what is tried here and without what would only be in the way.
  function question() {
    const own = data.views[2];
    const isResting = (mark) => ['water', 'wet-planting', 'set-out', 'touch'].includes(mark.mark) || told.planned.some((work) => work.thing === mark.thing);
    return Object.assign({}, own, { marks: own.marks.filter((mark) => !isResting(mark)), places: [] });
  }

  return { begin, end, press, redraw, head, fill, question, isOn: () => isOn, saved };
}
