// Pictures of the sun: its way over one place, and the hours of direct sun by month.

// The sky from east by south to west (by north in the southern half of the world): what stands, and the sun's arcs.
function drawSunPath(data, horizon) {
  const sky = data.horizons;
  const wide = 320;
  const base = 150;
  const most = 76;
  const middle = sky.isSouthern ? 0 : 180;
  const turned = (azimuth) => ((azimuth - middle + 540) % 360) - 180;
  const across = (azimuth) => wide / 2 + (turned(azimuth) / 130) * (wide / 2);
  const up = (elevation) => base - (Math.min(Math.max(elevation, 0), most) / most) * (base - 20);
  const svg = draw(null, 'svg', { viewBox: '0 0 ' + wide + ' 176', class: 'section', role: 'img' });
  svg.setAttribute('aria-label', sunWords(sky, horizon));
  write(svg, 0, 12, 'The sun’s way over this spot', { class: 'section-name' });
  const clip = 'sky-' + Math.round(Math.random() * 1e9);
  draw(draw(svg, 'clipPath', { id: clip }), 'rect', { x: 0, y: 16, width: wide, height: base - 16 });
  const inside = draw(svg, 'g', { 'clip-path': 'url(#' + clip + ')' });
  for (const arc of sky.arcs) {
    const points = arc.azimuth.map((azimuth, k) => [across(azimuth), up(arc.elevation[k]), turned(azimuth)])
      .sort((a, b) => a[2] - b[2]);
    draw(inside, 'path', { d: trace(points), class: 'pen-shade-line', 'stroke-width': 1.5 });
  }
  const outline = (heights) => {
    const points = [];
    for (let k = 0; k < heights.length; k += 1) points.push([turned(k * sky.step), heights[k]]);
    points.sort((a, b) => a[0] - b[0]);
    const shown = points.map(([turn, height]) => [wide / 2 + (turn / 130) * (wide / 2), up(height)]);
    return trace([[shown[0][0], base]].concat(shown, [[shown[shown.length - 1][0], base]]), true);
  };
  const shade = (d, mark) => {
    tint(inside, 'path', { d }, mark, data);
    draw(inside, 'path', { d, class: 'pen-shade-line', 'stroke-width': 1.2 });
  };
  if (horizon.crowns.length) shade(outline(horizon.crowns), 'sun-4');
  shade(outline(horizon.solid), 'sun-0');
  for (const arc of sky.arcs) {
    const at = arc.elevation.indexOf(Math.max(...arc.elevation));
    if (at < 0) continue;
    write(svg, wide / 2, up(arc.elevation[at]) - 4, arc.name.split(' ')[0].replace(/^./, (sign) => sign.toUpperCase()), { class: 'section-name middle on-sky' });
  }
  draw(svg, 'path', { d: 'M0 ' + base + 'H' + wide, class: 'pen-ink', 'stroke-width': 1.4 });
  for (const [name, azimuth] of [['east', 90], ['south', 180], ['west', 270], ['north', 0]]) {
    const x = across(azimuth);
    if (x < 20 || x > wide - 20) continue;
    draw(svg, 'path', { d: 'M' + tenth(x) + ' ' + base + 'v5', class: 'pen-ink', 'stroke-width': 1.4 });
    write(svg, x, base + 20, name, { class: 'section-name middle' });
  }
  return svg;
}

function sunWords(sky, horizon) {
  const said = sky.arcs.map((arc) => {
    const open = arc.azimuth.filter((azimuth, k) => {
      const way = Math.round(azimuth / sky.step) % horizon.solid.length;
      return arc.elevation[k] > Math.max(horizon.solid[way], horizon.crowns[way] || 0);
    }).length;
    return arc.name + ': the sun is clear of everything for about ' + Math.round(open / 2) + ' of ' + Math.round(arc.azimuth.length / 2) + ' hours';
  });
  return 'The sun’s way over this spot. ' + said.join('; ');
}

function halves(hours) {
  const count = Math.round(hours * 2);
  return (count > 1 || count === 0 ? Math.floor(count / 2) : '') + (count % 2 ? '½' : '');
}

function tint(parent, tag, shape, mark, data) {
  draw(parent, tag, Object.assign({ class: 'ink-' + mark }, shape));
  if (data.marks[mark].pattern) draw(parent, tag, Object.assign({ fill: 'url(#' + PATTERN + data.marks[mark].pattern + ')' }, shape));
}

// Hours of sun by month as a row of strokes, one for each hour.
function drawMonths(data, hours) {
  const wide = 320;
  const most = 16;
  const step = wide / 12;
  const svg = draw(null, 'svg', { viewBox: '0 0 ' + wide + ' 132', class: 'section', role: 'img' });
  svg.setAttribute('aria-label', 'Hours of direct sun a day, January to December: ' + hours.map((hour) => hour.toFixed(1)).join(', '));
  write(svg, 0, 12, 'Hours of direct sun a day', { class: 'section-name' });
  const base = 112;
  const tall = 84 / most;
  draw(svg, 'path', { d: 'M0 ' + base + 'H' + wide, class: 'pen-ink', 'stroke-width': 1.4 });
  hours.forEach((hour, k) => {
    const x = k * step + 3;
    const mark = hour >= 8 ? 'sun-8' : hour >= 6 ? 'sun-6' : hour >= 4 ? 'sun-4' : 'sun-0';
    const box = { x: tenth(x), y: tenth(base - hour * tall), width: tenth(step - 6), height: tenth(hour * tall) };
    tint(svg, 'rect', box, mark, data);
    draw(svg, 'rect', Object.assign({ class: 'legend-frame' }, box));
    write(svg, x + step / 2 - 3, base - hour * tall - 4, halves(hour), { class: 'section-name middle' });
    write(svg, x + step / 2 - 3, base + 15, 'JFMAMJJASOND'[k], { class: 'section-name middle' });
  });
  return svg;
}
