// The card and the panel: answers, lists, and what is said of one thing. All text goes in as text.

function put(parent, tag, className, text) {
  const element = document.createElement(tag);
  if (className) element.className = className;
  if (text !== undefined) element.textContent = text;
  if (parent) parent.appendChild(element);
  return element;
}

function button(parent, className, text, onPress) {
  const element = put(parent, 'button', className, text);
  element.type = 'button';
  element.addEventListener('click', onPress);
  return element;
}

const keptHere = new Map();

// What is kept on this device; in a closed frame, as a notebook shows it, only until the page is left.
function kept(key, value) {
  try {
    if (value !== undefined) window.localStorage.setItem(key, value);
    return window.localStorage.getItem(key);
  } catch (problem) {
    if (value !== undefined) keptHere.set(key, value);
    return keptHere.has(key) ? keptHere.get(key) : null;
  }
}

// The answer, its legend and its list. Those of a day change with the crew and with each tick: onTell is told which
// places then have a number on the map.
function showAnswer(body, question, drawLegend, open, onTell) {
  body.textContent = '';
  const crew = question.day ? askCrew(body, question.day, () => tell()) : null;
  const answer = put(body, 'p', 'answer');
  put(body, 'p', 'caption', question.caption);
  const legend = put(body, 'ul', 'legend');
  for (const entry of question.legend) {
    const item = put(legend, 'li');
    item.appendChild(drawLegend(entry.marks));
    put(item, 'span', '', entry.text);
  }
  legend.style.setProperty('--rows', Math.ceil(question.legend.length / 2));
  for (const stop of question.day ? question.day.stops : []) showCaution(body, 'Stop. ', stop);
  const lists = put(body, 'div');
  if (question.caution) showCaution(body, 'Caution. ', question.caution);
  function tell() {
    const told = crew ? tellDay(question, crew()) : { answer: question.answer, rings: question.places, parts: [], lists: [['', question.places]] };
    const ticked = document.activeElement && document.activeElement.dataset.tick;
    answer.textContent = told.answer;
    lists.textContent = '';
    for (const [head, places] of told.lists.filter((one) => one[1].length)) {
      if (head) put(lists, 'h3', 'more-head', head);
      const list = put(lists, 'ol', 'places');
      for (const place of places) showEntry(list, place, open, tell);
      if (!head) for (const part of told.parts) showPart(lists, part);
    }
    if (ticked) lists.querySelector('[data-tick="' + CSS.escape(ticked) + '"]').focus({ preventScroll: true });
    onTell(told.rings);
  }
  tell();
}

function showCaution(body, head, text) {
  const caution = put(body, 'p', 'caution');
  put(caution, 'b', '', head);
  caution.appendChild(document.createTextNode(text));
}

function showEntry(list, place, open, onTick) {
  const item = put(list, 'li', place.job ? 'has-tick' : '');
  if (place.job) showTick(item, place, onTick);
  const entry = button(item, 'entry', undefined, () => open(place.thing, entry));
  entry.dataset.entry = place.thing;
  put(entry, 'span', 'ring', place.ring);
  const text = put(entry, 'span', 'said');
  put(text, 'b', '', place.bold + ' ');
  text.appendChild(document.createTextNode(place.rest));
}

function showTick(item, place, onTick) {
  const label = put(item, 'label', 'tick');
  const box = put(label, 'input');
  box.type = 'checkbox';
  box.dataset.tick = place.thing;
  put(label, 'span', 'hidden', 'Done: ' + place.bold);
  box.checked = kept('job-' + place.job) === 'done';
  item.classList.toggle('is-done', box.checked);
  box.addEventListener('change', () => {
    kept('job-' + place.job, box.checked ? 'done' : 'open');
    item.classList.toggle('is-done', box.checked);
    onTick();
  });
}

function showCard(body, card, extra, speech) {
  body.textContent = '';
  if (card.where) put(body, 'p', 'caption where', card.where);
  if (card.numbers) {
    const row = put(body, 'dl', 'numbers');
    for (const [label, value] of card.numbers) {
      const cell = put(row, 'div');
      put(cell, 'dt', '', label);
      put(cell, 'dd', '', value);
    }
  }
  if (card.section && card.section.kind === 'mound') body.appendChild(drawSection(card.section));
  if (card.caution) showCaution(body, 'Caution. ', card.caution);
  for (const part of card.parts || []) {
    const block = showFolded(body, part);
    if (part.head.startsWith('Why so high') && card.section && card.section.years.length > 1) block.appendChild(drawYears(card.section, speech));
  }
  if (extra) extra(body);
}

// A part of a card: its head alone where the card must fit a phone, what it comes near to always in full.
function showFolded(body, part) {
  if (!part.isFolded && (window.innerWidth >= 560 || part.isPlain || part.head.startsWith('Near'))) return showPart(body, part);
  const block = put(body, 'details', 'part');
  put(put(block, 'summary'), 'b', '', part.head);
  if (part.text) put(block, 'p', '', part.text);
  showRest(block, part);
  return block;
}

function showPart(body, part) {
  const block = put(body, 'div', 'part');
  const head = put(block, 'p', '');
  put(head, 'b', '', part.head + ' ');
  if (part.text) head.appendChild(document.createTextNode(part.text));
  showRest(block, part);
  return block;
}

function showRest(block, part) {
  if (part.strokes) showStrokes(block, part.strokes);
  if (part.table) showTable(block, part.table);
  if (part.head.startsWith('Stakes')) block.classList.add('is-stakes');
}

function showStrokes(block, strokes) {
  const list = put(block, 'ul', 'strokes');
  for (const [kind, text] of strokes) {
    const item = put(list, 'li');
    const svg = draw(item, 'svg', { width: 34, height: 12, 'aria-hidden': 'true' });
    const dashes = { solid: '', dashes: '7 4', dots: '0.1 4.6' }[kind];
    draw(svg, 'path', { d: 'M1.5 6H32', class: 'pen-ink', 'stroke-width': 2.2, 'stroke-dasharray': dashes, 'stroke-linecap': kind === 'dots' ? 'round' : 'butt' });
    put(item, 'span', '', text);
  }
}

function showTable(block, rows) {
  const table = put(block, 'table');
  const head = put(put(table, 'thead'), 'tr');
  rows[0].forEach((text) => put(head, text ? 'th' : 'td', '', text).setAttribute('scope', 'col'));
  const body = put(table, 'tbody');
  for (const row of rows.slice(1)) {
    const line = put(body, 'tr');
    row.forEach((text, k) => {
      const cell = put(line, k ? 'td' : 'th', '', text);
      if (!k) cell.setAttribute('scope', 'row');
    });
  }
}

// A mound cut across, at true proportion: built broken, settled solid, water broken since it was read or worked out.
function drawSection(section) {
  const wide = 320;
  const scale = Math.min((wide * 0.64) / section.base, 130 / (section.built + Math.min(section.water, 1) + 0.1));
  const ground = 14 + section.built * scale;
  const water = ground + section.water * scale;
  const tall = Math.max(water + 26, ground + 30);
  const middle = wide / 2;
  const half = (section.base / 2) * scale;
  const top = (section.top / 2) * scale;
  const svg = draw(null, 'svg', { viewBox: '0 0 ' + wide + ' ' + tenth(tall), class: 'section', role: 'img' });
  svg.setAttribute('aria-label', 'Cross-section at true proportion: built with a broken line, settled with a solid one; ' + section.said);
  const crest = section.finished * scale;
  let hill = 'M' + tenth(middle - half) + ' ' + tenth(ground);
  for (let k = 1; k <= 40; k += 1) {
    const share = k / 40;
    const rise = (1 - Math.cos(2 * Math.PI * share)) / 2;
    hill += 'L' + tenth(middle - half + 2 * half * share) + ' ' + tenth(ground - crest * rise ** 0.8);
  }
  draw(svg, 'path', { d: hill + 'Z', class: 'ink-mound' });
  draw(svg, 'path', { d: hill, class: 'pen-built-line', 'stroke-width': 2.2 });
  const built = [[middle - half, ground], [middle - top, ground - section.built * scale], [middle + top, ground - section.built * scale], [middle + half, ground]];
  draw(svg, 'path', { d: trace(built), class: 'pen-built-line', 'stroke-width': 1.7, 'stroke-dasharray': '6 4' });
  const [left, right] = [middle - half - 32, middle + half + 32];
  draw(svg, 'path', { d: 'M' + tenth(left) + ' ' + tenth(ground) + 'H' + tenth(right), class: 'pen-ink', 'stroke-width': 2 });
  let ticks = '';
  for (const x of steps(left + 4, middle - half - 4, 8).concat(steps(middle + half + 8, right - 2, 8))) ticks += 'M' + tenth(x) + ' ' + tenth(ground + 1) + 'l-5 6';
  draw(svg, 'path', { d: ticks, class: 'pen-ink', 'stroke-width': 1.2 });
  draw(svg, 'path', { d: 'M' + tenth(left) + ' ' + tenth(water) + 'H' + tenth(right), class: 'pen-water-line', 'stroke-width': 1.8, 'stroke-dasharray': '6 4' });
  write(svg, middle + top + 8, ground - section.built * scale + 5, 'built', { class: 'section-name' });
  if (crest > 22) write(svg, middle, ground - crest * 0.38, 'settled', { class: 'section-name middle' });
  write(svg, left, water + 17, section.said, { class: 'section-name water' });
  return svg;
}

// The crest over the years: it sinks, and is topped up. Broken, since it is worked out; dotted where it is to stand.
function drawYears(section, speech) {
  const wide = 320;
  const [left, right, top, ground] = [82, wide - 12, 26, 118];
  const last = Math.max(...section.years.map((one) => one[0]));
  const highest = Math.max(...section.years.map((one) => one[1]), section.finished) * 1.08;
  const across = (year) => left + ((right - left) * year) / last;
  const up = (height) => ground - ((ground - top) * height) / highest;
  const svg = draw(null, 'svg', { viewBox: '0 0 ' + wide + ' 142', class: 'section', role: 'img' });
  const told = section.years.map(([year, height]) => (year % 1 ? 'as built ' : 'end of year ' + year + ' ') + speech.tape(height));
  svg.setAttribute('aria-label', 'Height of the crest over the years: ' + told.join(', '));
  write(svg, 0, 12, 'Its crest by year; dots: where it is to stand', { class: 'section-name' });
  draw(svg, 'path', { d: 'M' + left + ' ' + ground + 'H' + right, class: 'pen-ink', 'stroke-width': 1.6 });
  draw(svg, 'path', { d: 'M' + left + ' ' + tenth(up(section.finished)) + 'H' + right, class: 'pen-ink', 'stroke-width': 1.4, 'stroke-dasharray': '0.1 4.6', 'stroke-linecap': 'round' });
  const built = section.years[0][1];
  const marks = [[section.finished, section.heights[1]], [0, 'ground']];
  if (up(section.finished) - up(built) > 16) marks.push([built, section.heights[0]]);
  for (const [height, text] of marks) write(svg, left - 6, up(height) + 5, text, { class: 'section-name end' });
  draw(svg, 'path', { d: trace(section.years.map(([year, height]) => [across(year), up(height)])), class: 'pen-built-line', 'stroke-width': 2.2, 'stroke-dasharray': '7 4', 'stroke-linejoin': 'round' });
  const by = Math.ceil(last / 8);
  for (let year = by; year <= last; year += by) {
    draw(svg, 'path', { d: 'M' + tenth(across(year)) + ' ' + ground + 'v5', class: 'pen-ink', 'stroke-width': 1.4 });
    write(svg, across(year), ground + 20, (year === by ? 'year ' : '') + year, { class: 'section-name middle' });
  }
  return svg;
}
