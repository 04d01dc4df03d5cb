// The sheet: one map, four questions, one card.

// Pixels of a metre at the closest: the heights know nothing finer, and near to everything must stay quick.
const NEAREST = 48;

function startSheet(map, data) {
  const find = (id) => document.getElementById(id);
  const isImperial = data.units === 'imperial';
  const speech = makeSpeech(isImperial);
  const reader = makeReader(data);
  const [card, body, title, aside] = [find('card'), find('card-body'), find('card-title'), find('card-aside')];
  const state = { question: 0, chosen: null, opener: null, isFitted: true, numbered: [] };

  find('site-name').textContent = data.name;
  find('site-area').textContent = [data.area, data.made].filter(Boolean).join(' · ');
  const ground = makeGround(map, data.ground);
  const drawing = makeDrawing(map, data);
  const ringPane = map.createPane('rings');
  const pressed = new WeakMap();
  const measure = makeMeasure(map, reader, speech, find('measure'), drawing.over);
  const telling = find('telling');
  const whereabouts = data.share
    ? makeWhereabouts(map, data.share, speech, data.start, (text) => { telling.textContent = text; telling.hidden = !text; }, drawing.over)
    : null;

  const question = () => (change && change.isOn() ? change.question() : data.views[state.question]);
  const change = data.trying ? makeChange(map, data, reader, speech, { show: showTrying, redraw, leave: () => openQuestion(2, true), say: (text) => { body.querySelector('.caption').textContent = text; } }) : null;
  const textSize = () => parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
  const pencil = document.createElement('canvas').getContext('2d');

  function measureText(text, kind) {
    const style = getComputedStyle(document.body);
    pencil.font = (kind.includes('grown') ? 'italic ' : '') + 14 * textSize() + 'px ' + style.fontFamily;
    return pencil.measureText(text).width + (kind.includes('road') ? 6 * text.length : 0);
  }

  // The parcel whole, with room for the top line, the scale and the north arrow.
  function fit() {
    const size = map.getSize();
    const isWide = size.x >= 560;
    const room = isWide ? [85, 50, 66, 120] : [38, 50, 38, change && change.isOn() ? 90 : 46];
    const [width, height] = data.frame;
    const scale = Math.min((size.x - room[0] - room[2]) / width, (size.y - room[1] - room[3]) / height);
    const safe = Math.max(scale, 0.02);
    const middle = [
      height / 2 + (room[1] - room[3]) / 2 / safe,
      width / 2 + (room[2] - room[0]) / 2 / safe,
    ];
    map.options.minZoom = Math.log2(safe * 0.6);
    map.options.maxZoom = Math.log2(Math.max(NEAREST, 4 * safe));
    map.setMaxBounds([[-0.25 * height, -0.25 * width], [1.25 * height, 1.25 * width]]);
    map.setView(middle, Math.log2(safe), { animate: false });
    state.isFitted = true;
    document.body.classList.remove('is-zoomed');
  }

  function redraw() {
    const view = drawing.redraw(question(), state.chosen);
    ground.place(view);
    layOut(view);
    drawScale(find('scale'), view, isImperial, data.levels);
    measure.redraw();
    if (whereabouts) whereabouts.redraw();
    if (change) change.redraw(view);
    drawing.over.parentNode.classList.toggle('is-close', view.isClose);
  }

  function overlayBoxes() {
    const field = find('field').getBoundingClientRect();
    return ['tools', 'north', 'scale', 'measure', 'trying'].map(find).filter((one) => one.offsetParent !== null).map((one) => {
      const box = one.getBoundingClientRect();
      const trim = one.id === 'scale' ? 5 : 0;
      return [box.left - field.left, box.top - field.top + trim, box.right - field.left, box.bottom - field.top];
    });
  }

  function layOut(view) {
    view.top = view.isWide ? 8 : 46;
    view.bottom = view.isWide ? 40 : 2;
    const table = makeTable(view, overlayBoxes());
    const stakes = question().marks.filter((mark) => mark.mark === 'stake' && mark.thing === state.chosen);
    for (const mark of stakes.concat(question().marks.filter((one) => data.marks[one.mark].letter))) {
      const [x, y] = view.to(mark.at[0], mark.at[1]);
      table.take(boxAround(x + view.pane[0], y + view.pane[1], mark.name ? 34 : 18, mark.name ? 32 : 18));
    }
    const busy = inkUnder(data, question(), view);
    const names = placeNames(data, question(), view, table, measureText, busy);
    const rings = placeRings(numbered(), view, table, busy);
    names.push(...placePlantNames(question(), view, table, measureText));
    if (view.isWide) names.push(...placeLevelNames(view, table, busy));
    names.push(...stakeNames(stakes, view));
    drawNames(names, view);
    drawRings(rings, view);
  }

  // The letter of each stake, on the far side from the middle of all.
  function stakeNames(stakes, view) {
    const spots = stakes.map((mark) => view.to(mark.at[0], mark.at[1]).map((value, k) => value + view.pane[k]));
    const middle = [0, 1].map((k) => spots.reduce((sum, spot) => sum + spot[k], 0) / (spots.length || 1));
    const away = spots.map((spot) => distance(spot, middle) || 1);
    if (Math.max(...away) <= 38) return [];
    return spots.map(([x, y], k) => ({ text: stakes[k].name, kind: 'name bold', x: x + ((x - middle[0]) / away[k]) * 15, y: y + ((y - middle[1]) / away[k]) * 15 }));
  }

  // Of jobs only those of the day get a number on the map, and the one that is open.
  function numbered() {
    return question().places.filter((place) => state.numbered.includes(place.ring) || place.thing === state.chosen);
  }

  function placeLevelNames(view, table, busy) {
    const best = new Map();
    for (const mark of data.standing.filter((one) => one.mark === 'level-whole')) {
      for (const line of mark.line) {
        const points = pixels(line, view).map((p) => [p[0] + view.pane[0], p[1] + view.pane[1]]);
        const long = lengthOf(points);
        if (long > 90 && (!best.has(mark.name) || best.get(mark.name).long < long)) best.set(mark.name, { long, points });
      }
    }
    const named = [];
    for (const [label, line] of best) {
      for (const share of [0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85]) {
        const spot = placesAlong(line.points, [share * line.long])[0];
        const box = boxAround(spot.x, spot.y, 38, 22);
        if (table.fits(box) && table.isFree(box, 8) && busy(spot.x, spot.y, 18) < 1) {
          table.take(box);
          let turn = (Math.atan2(spot.dy, spot.dx) * 180) / Math.PI;
          if (turn > 90) turn -= 180;
          if (turn < -90) turn += 180;
          named.push({ text: label, x: spot.x, y: spot.y, degrees: turn, kind: 'name level-name' });
          break;
        }
      }
    }
    return named;
  }

  function drawNames(names, view) {
    drawing.over.querySelectorAll('.names').forEach((one) => one.remove());
    const group = draw(drawing.over, 'g', { class: 'names' });
    for (const name of names) {
      const x = tenth(name.x - view.pane[0]);
      const y = tenth(name.y - view.pane[1]);
      const turn = name.turn ? -90 : name.degrees || 0;
      const text = write(group, x, y, name.text, { class: name.kind + ' middle', dy: '.35em', transform: turn ? 'rotate(' + tenth(turn) + ' ' + x + ' ' + y + ')' : '' });
      if (name.kind.includes('road')) text.setAttribute('xml:space', 'preserve');
    }
  }

  function drawRings(rings, view) {
    const leaders = draw(drawing.over, 'g', { class: 'leaders' });
    const focused = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.rings : undefined;
    ringPane.textContent = '';
    for (const ring of rings) {
      const [x, y] = [ring.x - view.pane[0], ring.y - view.pane[1]];
      if (ring.leader) drawLeader(leaders, [ring.leader[0] - view.pane[0], ring.leader[1] - view.pane[1]], [x, y]);
      if (ring.bracket) {
        const [w, e, , way] = ring.bracket;
        const d = 'M' + tenth(w - view.pane[0]) + ' ' + tenth(y + 6 * way) + 'V' + tenth(y) + 'H' + tenth(e - view.pane[0]) + 'V' + tenth(y + 6 * way);
        draw(leaders, 'path', { d, class: 'edge', 'stroke-width': 4.5 });
        draw(leaders, 'path', { d, class: 'pen-ink', 'stroke-width': 1.6 });
      }
      const text = ringText(ring.places);
      const one = put(ringPane, 'button', 'ring-target');
      one.type = 'button';
      pressed.set(one, () => pressRing(ring, one));
      put(one, 'span', 'ring', text);
      one.dataset.rings = text;
      one.setAttribute('aria-label', ringLabel(ring.places));
      one.classList.toggle('is-chosen', ring.places.length === 1 && ring.places[0].thing === state.chosen);
      one.style.left = tenth(x) + 'px';
      one.style.top = tenth(y) + 'px';
      one.style.setProperty('--half', ring.half + 'px');
      if (text === focused) one.focus({ preventScroll: true });
    }
  }

  function ringLabel(places) {
    const names = places.map((place) => place.ring + ', ' + place.bold.replace(/[,.:]$/, ''));
    return names.length === 1 ? names[0] : 'Places ' + ringText(places) + ', closer together than a finger; press to zoom';
  }

  function drawLeader(group, foot, ring) {
    const away = distance(foot, ring) || 1;
    const edge = [ring[0] + ((foot[0] - ring[0]) * RING) / away, ring[1] + ((foot[1] - ring[1]) * RING) / away];
    draw(group, 'path', { d: trace([foot, edge]), class: 'edge', 'stroke-width': 5 });
    draw(group, 'path', { d: trace([foot, edge]), class: 'pen-ink', 'stroke-width': 1.8 });
    draw(group, 'circle', { cx: tenth(foot[0]), cy: tenth(foot[1]), r: 3.6, class: 'leader-foot' });
  }

  function pressRing(ring, from) {
    if (ring.places.length === 1) {
      open(ring.places[0].thing, from);
      return;
    }
    let least = Infinity;
    ring.places.forEach((a, k) => ring.places.slice(k + 1).forEach((b) => {
      least = Math.min(least, distance(a.at, b.at));
    }));
    const xs = ring.places.map((place) => place.at[0]);
    const ys = ring.places.map((place) => place.at[1]);
    const scale = Math.min(64, Math.max(47 / Math.max(least, 0.1), map.options.crs.scale(map.getZoom()) * 1.6));
    state.isFitted = false;
    show((Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2, scale);
  }

  function show(x, y, scale) {
    document.body.classList.add('is-zoomed');
    map.setView([y, x], Math.log2(scale), { animate: false });
  }

  // Cards.

  function setCard(name, ring, asideText, onAside) {
    title.textContent = '';
    if (ring) put(title, 'span', 'ring is-chosen', ring);
    put(title, 'span', '', name);
    aside.textContent = asideText;
    aside.onclick = onAside;
    card.scrollTop = 0;
    body.scrollTop = 0;
  }

  function resizeCard(size) {
    document.body.dataset.card = size;
    map.invalidateSize({ animate: false, pan: false });
  }

  function openQuestion(number, isFocused) {
    state.question = number;
    close(false);
    document.querySelectorAll('#questions button').forEach((one, k) => {
      if (k === number) one.setAttribute('aria-current', 'true');
      else one.removeAttribute('aria-current');
    });
    showAnswers();
    redraw();
    if (isFocused) title.focus({ preventScroll: true });
  }

  function showAnswers() {
    const isUp = document.body.dataset.card === 'up';
    setCard(question().question, '', isUp ? 'Map' : 'List', () => {
      resizeCard(document.body.dataset.card === 'up' ? 'rest' : 'up');
      aside.textContent = document.body.dataset.card === 'up' ? 'Map' : 'List';
      if (state.isFitted && document.body.dataset.card === 'rest') fit();
      redraw();
    });
    showAnswer(body, question(), (marks) => drawLegendMark(marks, data), open, (places) => {
      state.numbered = places.map((place) => place.ring);
      if (document.body.classList.contains('is-ready')) redraw();
    });
    if (change && state.question === 2) body.querySelector('.places').before(button(null, 'tool', 'Try a change', tryChange));
    card.classList.remove('has-thing');
  }

  async function tryChange() {
    const isOpen = await reader.open() && await change.begin();
    if (!isOpen) {
      body.querySelector('.caption').textContent = 'Not on this device: its browser is too old to unpack the heights.';
      return;
    }
    if (state.isFitted) fit();
    title.focus({ preventScroll: true });
  }

  // The card of the change, its focus kept where it was.
  function showTrying() {
    const key = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.key : undefined;
    const [name, asideText, onAside] = change.head();
    const top = title.textContent === name ? card.scrollTop : 0;
    setCard(name, '', asideText, onAside);
    change.fill(body);
    card.classList.add('has-thing');
    card.scrollTop = top;
    redraw();
    const again = key && body.querySelector('[data-key="' + key + '"]');
    if (again) again.focus({ preventScroll: true });
  }

  function close(isBack) {
    if (change) change.end();
    state.chosen = null;
    find('more').setAttribute('aria-expanded', 'false');
    resizeCard('rest');
    if (state.isFitted) fit();
    showAnswers();
    redraw();
    if (isBack && state.opener) {
      const again = document.querySelector('[data-entry="' + CSS.escape(state.opener) + '"]');
      (again || title).focus({ preventScroll: false });
    }
    state.opener = null;
  }

  function open(thing, from) {
    const told = data.things[thing];
    if (!told) return;
    const place = question().places.find((one) => one.thing === thing);
    state.chosen = thing;
    state.opener = from ? thing : null;
    setCard(told.name, place ? place.ring : '', 'All places', () => close(true));
    showCard(body, told, told.section && told.section.kind === 'sun' ? (holder) => addSun(holder, told.section.at) : null, speech);
    card.classList.add('has-thing');
    resizeCard('open');
    bringIntoView(place);
    redraw();
    title.focus({ preventScroll: true });
  }

  function bringIntoView(place) {
    if (map.getSize().x >= 560 || !place || !place.at) return;
    const now = map.options.crs.scale(map.getZoom());
    const wanted = place.reach ? Math.min(16, 136 / place.reach) : 0;
    const shift = 22 / Math.max(now, wanted);
    show(place.at[0], place.at[1] + shift, Math.max(now, wanted));
  }

  async function openSpot(x, y) {
    const isOpen = await reader.open();
    state.chosen = 'spot';
    setCard('This spot', '', 'All places', () => close(true));
    const parts = isOpen ? spotParts(x, y).map((part) => Object.assign({ isPlain: true }, part)) : [{ head: 'Not on this device.', text: 'Its browser is too old to unpack the values under the finger.' }];
    showCard(body, { where: whereIs(data.start, speech, x, y), parts }, isOpen ? (holder) => addSun(holder, [x, y]) : null);
    card.classList.add('has-thing');
    resizeCard('open');
    if (map.getSize().x < 560) show(x, y + 22 / map.options.crs.scale(map.getZoom()), map.options.crs.scale(map.getZoom()));
    redraw();
    markSpot(x, y);
    title.focus({ preventScroll: true });
  }

  function markSpot(x, y) {
    const scale = map.options.crs.scale(map.getZoom());
    const origin = map.getPixelOrigin();
    const [px, py] = [x * scale - origin.x, -y * scale - origin.y];
    const d = 'M' + tenth(px - 8) + ' ' + tenth(py) + 'h16M' + tenth(px) + ' ' + tenth(py - 8) + 'v16';
    const group = draw(drawing.over, 'g', { class: 'names' });
    draw(group, 'path', { d, class: 'edge', 'stroke-width': 6 });
    draw(group, 'path', { d, class: 'pen-ink', 'stroke-width': 2.2 });
  }

  function spotParts(x, y) {
    const values = reader.valuesAt(x, y);
    const parts = [];
    if (!values.length) return [{ head: 'Not known.', text: 'Nothing was surveyed here.' }];
    const found = Object.fromEntries(values.map((value) => [value.name, value.value]));
    const tenths = Math.round(10 * found.ponding_probability);
    const stands = tenths > 9 ? 'Water is almost sure to stand here after heavy rain.' : tenths < 1 ? 'Hardly ever under water.'
      : tenths + (tenths === 1 ? ' chance' : ' chances') + ' in\u00a010 that water stands here after heavy rain.';
    const wet = Math.round(10 * found.wetness);
    const soft = wet >= 8 ? ' Among the wettest ground here.' : wet <= 2 ? ' Among the driest ground here.' : '';
    if (found.ponding_probability !== undefined) parts.push({ head: 'Water.', text: stands + (found.wetness === undefined ? '' : soft) });
    const depth = found.water_table_depth;
    if (depth !== undefined) parts.push({ head: 'Below.', text: depth < 0.05 ? 'In the wet season the water stands at the surface.' : 'In the wet season water stands about ' + speech.tape(depth) + ' down.' });
    if (found.sun_hours !== undefined) parts.push({ head: 'Sun.', text: sayWork(found.sun_hours) + ' a day in the growing season.' });
    const zone = zoneAt(x, y);
    if (zone) parts.push({ head: 'Use.', text: zone + '.' });
    parts.push({ head: 'How sure.', strokes: [['dashes', 'Worked out from heights and the drawing; no finer than they are']] });
    parts.push({ head: 'All values here.', isFolded: true, table: [['layer', 'value']].concat(values.map((value) => [value.title, value.text])) });
    return parts;
  }

  function zoneAt(x, y) {
    for (const mark of data.views[2].marks) {
      if (mark.mark !== 'touch' || !mark.thing.startsWith('zone-')) continue;
      if (mark.area.some((rings) => rings.filter((ring) => isInside(ring, x, y)).length % 2 === 1)) return data.things[mark.thing].name;
    }
    return '';
  }

  function addSun(holder, at) {
    reader.open().then((isOpen) => {
      if (!isOpen) return;
      const horizon = reader.horizonAt(at[0], at[1]);
      if (horizon) holder.appendChild(drawSunPath(data, horizon));
      const hours = reader.sunAt(at[0], at[1]);
      if (hours && hours.every((hour) => hour !== null)) holder.appendChild(drawMonths(data, hours));
    });
  }

  function openMore() {
    const isOpen = find('more').getAttribute('aria-expanded') === 'true';
    if (isOpen) {
      close(true);
      return;
    }
    state.chosen = null;
    find('more').setAttribute('aria-expanded', 'true');
    setCard('More', '', 'All places', () => close(true));
    body.textContent = '';
    const tools = put(body, 'div', 'tool-list');
    const start = (kind) => { close(false); measure.begin(kind); find('measure').querySelector('button').focus(); };
    button(tools, 'tool', 'Tape measure', () => start('tape'));
    button(tools, 'tool', 'Slope between two taps', () => start('slope'));
    if (whereabouts) button(tools, 'tool', whereabouts.isOn() ? 'Stop showing where I am' : 'Where am I?', () => { close(false); whereabouts.toggle(); });
    button(tools, 'tool', 'The whole parcel', () => { close(false); fit(); redraw(); });
    showPart(body, { head: 'Any value.', text: 'Tap bare ground: the card gives every layer there, and the sun by month.' });
    showPart(body, { head: 'Lines.', strokes: [['solid', 'Measured or seen'], ['dashes', 'Worked out, likely, or guessed by a person'], ['dots', 'May be, or a rule of thumb'], ] });
    showPart(body, { head: 'North.', text: data.north.said });
    showPart(body, { head: 'Not drawn', text: 'means not known. Blank paper was not surveyed.' });
    put(body, 'h3', 'more-head', 'Cautions');
    for (const [head, text] of data.cautions) showPart(body, { head: head + '.', text });
    put(body, 'h3', 'more-head', 'The ground as it was read');
    body.appendChild(ground.picture(data.standing.filter((mark) => mark.mark === 'boundary').flatMap((mark) => mark.area)));
    for (const text of data.ground.said) put(body, 'p', 'ground-said', text);
    put(body, 'h3', 'more-head', 'What this rests on');
    for (const note of data.notes) showPart(body, { head: 'Note.', text: note });
    showPart(body, { head: 'This page', text: (data.made ? 'was made on ' + data.made + ', ' : '') + 'keeps nothing but your ticks, asks nothing of the network, and gives general advice: local codes and licensed people come first. Map handling by Leaflet (BSD licence, in the page’s source).' });
    card.classList.add('has-thing');
    resizeCard('open');
    redraw();
    title.focus({ preventScroll: true });
  }

  // What a finger means: a thing under it or within reach, else the spot itself.
  // Rings are pressed through the map, which knows a press from the end of a drag.
  function press(event) {
    const { lat, lng } = event.latlng;
    if (measure.isOn()) {
      measure.add(lng, lat);
      return;
    }
    if (change && change.isOn()) {
      change.press(lng, lat);
      return;
    }
    const ring = event.originalEvent.target.closest('.ring-target');
    if (ring && pressed.has(ring)) {
      pressed.get(ring)();
      return;
    }
    const touch = event.originalEvent;
    const seen = (dx, dy) => {
      const hit = document.elementFromPoint(touch.clientX + dx, touch.clientY + dy);
      const thing = hit && hit.closest ? hit.closest('[data-thing]') : null;
      return thing && thing.dataset.thing ? thing : null;
    };
    const hits = [seen(0, 0)];
    for (const reach of [8, 16]) {
      for (let k = 0; k < 8; k += 1) hits.push(seen(reach * Math.cos((k * Math.PI) / 4), reach * Math.sin((k * Math.PI) / 4)));
    }
    const small = hits.find((hit) => hit && !hit.classList.contains('is-ground'));
    const found = hits[0] && !hits[0].classList.contains('is-ground') ? hits[0] : small || hits[0];
    if (found && data.things[found.dataset.thing]) open(found.dataset.thing, null);
    else openSpot(lng, lat);
  }

  function nearer(by) {
    state.isFitted = false;
    document.body.classList.add('is-zoomed');
    map.setZoom(map.getZoom() + by, { animate: false });
  }

  find('closer').addEventListener('click', () => nearer(1));
  find('wider').addEventListener('click', () => nearer(-1));
  find('more').addEventListener('click', openMore);
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape') return;
    if (measure.isOn()) measure.end();
    else if (card.classList.contains('has-thing')) close(true);
  });
  document.querySelectorAll('#questions button').forEach((one, k) => {
    one.addEventListener('click', () => openQuestion(k, false));
  });
  card.addEventListener('scroll', () => {
    if (document.body.dataset.card === 'open' && card.scrollTop > 24 && map.getSize().x < 560) resizeCard('up');
  }, { passive: true });
  pullable(card, () => document.body.dataset.card, (size) => { resizeCard(size); redraw(); });

  find('north').appendChild(drawNorth(data.north.turn));
  // On paper the map keeps the size that it has on the screen, or is drawn smaller to fit a sheet.
  window.addEventListener('beforeprint', () => {
    const box = find('field').getBoundingClientRect();
    Object.assign(find('field').style, { width: box.width + 'px', height: box.height + 'px', zoom: Math.min(1, 690 / box.width) });
    document.querySelectorAll('details').forEach((one) => { one.open = true; });
  });
  window.addEventListener('afterprint', () => find('field').removeAttribute('style'));
  map.on('click', press);
  map.on('zoom viewreset', redraw);
  map.on('moveend', redraw);
  map.on('dragstart', () => { state.isFitted = false; document.body.classList.add('is-zoomed'); });
  map.on('resize', () => { if (state.isFitted && document.body.dataset.card === 'rest') fit(); redraw(); });
  resizeCard('rest');
  fit();
  openQuestion(0, false);
  document.body.classList.add('is-ready');
}

function isInside(ring, x, y) {
  let inside = false;
  for (let k = 0, last = ring.length - 2; k < ring.length; last = k, k += 2) {
    if (ring[k + 1] > y !== ring[last + 1] > y
      && x < ((ring[last] - ring[k]) * (y - ring[k + 1])) / (ring[last + 1] - ring[k + 1]) + ring[k]) inside = !inside;
  }
  return inside;
}

// The card's head can be pulled up and down.
function pullable(card, sizeNow, setSize) {
  const head = card.querySelector('.card-head');
  let from = null;
  head.addEventListener('pointerdown', (event) => { from = event.clientY; });
  window.addEventListener('pointerup', (event) => {
    if (from === null) return;
    const moved = event.clientY - from;
    from = null;
    const order = card.classList.contains('has-thing') ? ['open', 'up'] : ['rest', 'up'];
    if (moved < -30) setSize(order[1]);
    else if (moved > 30 && sizeNow() === 'up') setSize(order[0]);
  });
  window.addEventListener('pointercancel', () => { from = null; });
}

function drawNorth(turn) {
  const svg = draw(null, 'svg', { width: 24, height: 54, viewBox: '0 0 24 54', role: 'img', 'aria-label': turn ? 'Arrow to true north' : 'North is up' });
  write(svg, 12, 13, 'N', { class: 'name bold middle' });
  const arrow = draw(svg, 'g', { transform: turn ? 'rotate(' + turn + ' 13 36)' : '' });
  draw(arrow, 'path', { d: 'M13 52V20L7 36', class: 'edge', 'stroke-width': 5 });
  draw(arrow, 'path', { d: 'M13 52V20L7 36', class: 'pen-ink', 'stroke-width': 1.8 });
  return svg;
}
