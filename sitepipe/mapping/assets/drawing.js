// The drawing: every stroke of the view laid out in pixels, again at each zoom, so that marks keep their size.

const SHORT_NAMES = new Set(['building', 'tap', 'well', 'gate', 'culvert', 'road', 'keep-clear', 'open-water']);

function makeDrawing(map, data) {
  map.createPane('drawing');
  map.createPane('overdrawing');
  const svg = draw(map.getPane('drawing'), 'svg', { class: 'drawing', 'aria-hidden': 'true', focusable: 'false' });
  const over = draw(map.getPane('overdrawing'), 'svg', { class: 'drawing over', 'aria-hidden': 'true', focusable: 'false' });
  drawPatterns(draw(svg, 'defs'), data.tiles);
  const sheet = draw(svg, 'g');

  function viewNow(question, chosen) {
    const scale = map.options.crs.scale(map.getZoom());
    const origin = map.getPixelOrigin();
    const pane = map.layerPointToContainerPoint([0, 0]);
    const size = map.getSize();
    const isWide = size.x >= 560;
    return {
      to: (x, y) => [x * scale - origin.x, -y * scale - origin.y],
      scale, chosen, styles: data.marks, pane: [pane.x, pane.y], size: [size.x, size.y],
      isClose: isWide || scale >= 6, isWide, mostFlows: 6, shores: data.shores, isQuiet: question.quiet,
    };
  }

  function redraw(question, chosen) {
    const view = viewNow(question, chosen);
    sheet.textContent = '';
    over.textContent = '';
    const names = Object.keys(data.marks);
    const isBelow = (mark) => names.indexOf(mark.mark) < names.indexOf('level-beyond');
    const marks = data.standing.concat(question.marks);
    drawMarks(sheet, marks.filter(isBelow), view);
    drawBanks(draw(sheet, 'g'), view);
    drawMarks(sheet, marks.filter((mark) => !isBelow(mark)), view);
    return view;
  }

  // Ticks of banks, below the level lines.
  function drawBanks(parent, view) {
    for (const bank of data.banks) {
      const top = pixels(bank.top, view);
      let ticks = '';
      placesAlong(top, steps(0, lengthOf(top), 6.5)).forEach((spot, k) => {
        const share = k % 2 ? 0.55 : 1;
        const dx = bank.down[2 * spot.leg] * view.scale * share;
        const dy = -bank.down[2 * spot.leg + 1] * view.scale * share;
        ticks += 'M' + tenth(spot.x) + ' ' + tenth(spot.y) + 'l' + tenth(dx) + ' ' + tenth(dy);
      });
      draw(parent, 'path', { d: ticks, class: 'bank' });
    }
  }

  return { redraw, over };
}

// A round length for the scale bar: its size in pixels, its pieces, its words.
function scaleBar(scale, isImperial, most) {
  const unit = isImperial ? 0.3048 : 1;
  let best = [1, 4];
  for (const size of [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]) {
    if (size * unit * scale <= most) best = [size, size.toString().startsWith('2') ? 4 : 5];
  }
  return { long: best[0] * unit * scale, pieces: best[1], words: best[0].toLocaleString('en-US') + (isImperial ? '\u00a0ft' : '\u00a0m') };
}

function drawScale(holder, view, isImperial, said) {
  const bar = scaleBar(view.scale, isImperial, view.isWide ? 150 : 92);
  const svg = holder.querySelector('svg');
  svg.textContent = '';
  svg.setAttribute('width', Math.ceil(bar.long) + 4);
  let d = 'M2 2V11H' + tenth(bar.long + 2) + 'V2';
  for (let k = 1; k < bar.pieces; k += 1) d += 'M' + tenth(2 + (k * bar.long) / bar.pieces) + ' 6V11';
  draw(svg, 'path', { d, class: 'edge', 'stroke-width': 4.5 });
  draw(svg, 'path', { d, class: 'pen-ink', 'stroke-width': 1.6 });
  holder.querySelector('.scale-words').textContent = bar.words;
  holder.querySelector('.level-words').textContent = ' · ' + said;
}
