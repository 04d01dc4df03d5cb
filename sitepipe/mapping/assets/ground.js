// The ground: the grey relief laid on a canvas, in warm and cool tones by day, dark ones by night.

function makeGround(map, ground) {
  const pane = map.createPane('ground');
  const canvas = document.createElement('canvas');
  canvas.className = 'ground';
  canvas.setAttribute('aria-hidden', 'true');
  pane.appendChild(canvas);
  const dark = window.matchMedia('(prefers-color-scheme: dark)');
  const image = new Image();

  function tone() {
    canvas.width = image.naturalWidth;
    canvas.height = image.naturalHeight;
    const paper = canvas.getContext('2d', { willReadFrequently: true });
    paper.drawImage(image, 0, 0);
    const picture = paper.getImageData(0, 0, canvas.width, canvas.height);
    const lit = ground.lit[dark.matches ? 1 : 0];
    const shaded = ground.shaded[dark.matches ? 1 : 0];
    for (let k = 0; k < picture.data.length; k += 4) {
      const share = picture.data[k] / 255;
      for (let c = 0; c < 3; c += 1) picture.data[k + c] = shaded[c] + share * (lit[c] - shaded[c]);
    }
    paper.putImageData(picture, 0, 0);
  }

  function place(view) {
    const corner = view.to(ground.box[0], ground.box[3]);
    const far = view.to(ground.box[2], ground.box[1]);
    canvas.style.left = tenth(corner[0]) + 'px';
    canvas.style.top = tenth(corner[1]) + 'px';
    canvas.style.width = tenth(far[0] - corner[0]) + 'px';
    canvas.style.height = tenth(far[1] - corner[1]) + 'px';
    canvas.classList.toggle('is-quiet', view.isQuiet);
  }

  image.addEventListener('load', tone);
  dark.addEventListener('change', () => { if (image.complete && image.naturalWidth) tone(); });
  image.src = ground.picture;

  // The same relief, small, with the boundary drawn in: the ground as it was read.
  function picture(boundary) {
    const small = document.createElement('canvas');
    [small.width, small.height] = [3 * canvas.width, 3 * canvas.height];
    small.className = 'section';
    small.setAttribute('role', 'img');
    small.setAttribute('aria-label', 'The heights as they were read, shaded, with the boundary');
    const pen = small.getContext('2d');
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(canvas, 0, 0, small.width, small.height);
    const scale = small.width / (ground.box[2] - ground.box[0]);
    pen.strokeStyle = getComputedStyle(document.documentElement).getPropertyValue('--ink');
    pen.lineWidth = small.width / 240;
    for (const ring of boundary.flat()) {
      pen.beginPath();
      for (let k = 0; k < ring.length; k += 2) pen.lineTo((ring[k] - ground.box[0]) * scale, (ground.box[3] - ring[k + 1]) * scale);
      pen.closePath();
      pen.stroke();
    }
    return small;
  }

  return { place, picture };
}

// Heights and layers, unpacked once and only when someone asks for them.

async function unpack(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

function makeReader(data) {
  let heights = null;
  let layers = null;
  let months = null;
  let horizons = null;

  // False where the browser is too old to unpack them.
  async function open() {
    if (heights) return true;
    try {
      return await unpackAll();
    } catch (problem) {
      return false;
    }
  }

  async function unpackAll() {
    const grid = data.heights;
    const raw = await unpack(grid.packed);
    const steps = new Uint16Array(grid.rows * grid.columns);
    for (let row = 0; row < grid.rows; row += 1) {
      let last = 0;
      for (let column = 0; column < grid.columns; column += 1) {
        const k = row * grid.columns + column;
        last = (last + raw[2 * k] + 256 * raw[2 * k + 1]) % 65536;
        steps[k] = last;
      }
    }
    const values = data.values;
    const body = await unpack(values.packed);
    const size = values.rows * values.columns;
    layers = values.layers.map((layer, k) => Object.assign({ steps: body.subarray(k * size, (k + 1) * size) }, layer));
    const rest = values.layers.length;
    months = Array.from({ length: 12 }, (_, k) => body.subarray((rest + k) * size, (rest + k + 1) * size));
    if (data.horizons.places) {
      const all = await unpack(data.horizons.packed);
      let from = 0;
      const [index, solid, crowns, gap] = data.horizons.sizes.map((length) => all.slice(from, from += length));
      horizons = { index: new Uint16Array(index.buffer), solid, crowns, gap };
    }
    heights = steps;
    return true;
  }

  function cellAt(grid, x, y) {
    const column = Math.floor((x - grid.west) / grid.cell);
    const row = Math.floor((grid.north - y) / grid.cell);
    return column >= 0 && row >= 0 && column < grid.columns && row < grid.rows ? row * grid.columns + column : -1;
  }

  // Metres above the lowest height of the page, between the cells; null where not surveyed.
  function heightAt(x, y) {
    const grid = data.heights;
    const column = (x - grid.west) / grid.cell - 0.5;
    const row = (grid.north - y) / grid.cell - 0.5;
    const left = Math.floor(column);
    const top = Math.floor(row);
    if (left < 0 || top < 0 || left >= grid.columns - 1 || top >= grid.rows - 1) return null;
    let sum = 0;
    for (const [r, c, share] of [
      [top, left, (1 - (row - top)) * (1 - (column - left))], [top, left + 1, (1 - (row - top)) * (column - left)],
      [top + 1, left, (row - top) * (1 - (column - left))], [top + 1, left + 1, (row - top) * (column - left)],
    ]) {
      const step = heights[r * grid.columns + c];
      if (step === 65535) return null;
      sum += share * step;
    }
    return sum * grid.step;
  }

  function valuesAt(x, y) {
    const k = cellAt(data.values, x, y);
    if (k < 0) return [];
    return layers.filter((layer) => layer.steps[k] !== 255).map((layer) => {
      let value = layer.low + ((layer.high - layer.low) * layer.steps[k]) / 254;
      if (layer.power) value = 10 ** value;
      return { name: layer.name, value, title: layer.title, meaning: layer.meaning, text: figure(value * layer.times, layer.unit) };
    });
  }

  function sunAt(x, y) {
    const k = cellAt(data.values, x, y);
    return k < 0 ? null : months.map((month) => (month[k] === 255 ? null : month[k] / 10));
  }

  // The horizon of the nearest place of the lattice, in degrees by direction; null where there is none.
  function horizonAt(x, y) {
    const grid = data.horizons;
    if (!horizons) return null;
    let best = null;
    for (let row = 0; row < grid.rows; row += 1) {
      for (let column = 0; column < grid.columns; column += 1) {
        const place = horizons.index[row * grid.columns + column];
        if (place === 65535) continue;
        const away = Math.hypot(grid.west + column * grid.spacing - x, grid.north - row * grid.spacing - y);
        if (!best || away < best.away) best = { away, place };
      }
    }
    if (!best || best.away > 2 * grid.spacing) return null;
    const count = 360 / grid.step;
    const cut = (bytes) => Array.from(bytes.subarray(best.place * count, (best.place + 1) * count), (half) => half / 2);
    return { solid: cut(horizons.solid), crowns: cut(horizons.crowns), gap: cut(horizons.gap) };
  }

  return { open, heightAt, valuesAt, sunAt, horizonAt };
}

function figure(value, unit) {
  const size = Math.abs(value);
  const places = size >= 100 ? 0 : size >= 10 ? 1 : 2;
  const text = value.toLocaleString('en-US', { maximumFractionDigits: places }).replace('-', '−');
  return unit === '°' ? text + unit : (text + '\u00a0' + unit).trim();
}
