// A change to the plan: works as they stand on the whole ground, and what the kernels say of them.

const BESIDE_FOOT = 0.3;

// Heights that were foretold from their neighbours west, north and north-west, byte by byte.
function foretoldHeights(bytes, rows, columns) {
  const size = rows * columns;
  const heights = shaped(new Int32Array(size), [rows, columns]);
  for (let cell = 0; cell < size; cell += 1) {
    const isFirst = cell % columns === 0;
    const west = isFirst ? 0 : heights[cell - 1];
    const north = cell < columns ? 0 : heights[cell - columns];
    const corner = isFirst || cell < columns ? 0 : heights[cell - columns - 1];
    const left = bytes[cell] + 256 * bytes[size + cell] + 65536 * bytes[2 * size + cell] + 16777216 * bytes[3 * size + cell];
    heights[cell] = ((left % 2 ? -(left + 1) / 2 : left / 2) + west + north - corner) | 0;
  }
  return heights;
}

// The ground of the page, unpacked when somebody first tries something.
async function openTrialGround(told) {
  const [heightBytes, bits, runoff] = await Promise.all(told.packed.map(unpack));
  const { rows, columns } = told;
  const size = rows * columns;
  const heights = foretoldHeights(heightBytes, rows, columns);
  const isWide = runoff.length > size;
  const kind = (cell) => (isWide ? runoff[2 * cell] + 256 * runoff[2 * cell + 1] : runoff[cell]);
  const eachCell = (array, make) => { for (let cell = 0; cell < size; cell += 1) array[cell] = make(cell); return array; };
  const mask = (bit) => shaped(eachCell(new Uint8Array(size), (cell) => (bits[cell] >> bit) & 1), [rows, columns]);
  const cells = told.exits.map(((sum) => (gap) => { sum += gap; return sum; })(0));
  const first = Float64Array.from(told.first);
  const [near, apart, wide] = told.reaches.map((reach) => pieces_around(first, reach));
  const ground = {
    heights, cell: told.cell, cellArea: told.area, share: told.share, parcel: mask(0), places: [1, 2, 3].map(mask),
    pieceOf: new Map(cells.map((cell, k) => [cell, told.pieces[k]])), around: { near, apart, wide },
    storms: told.storms.map((drops) => eachCell(new Float64Array(size), (cell) => drops[kind(cell)])),
  };
  return Object.assign(ground, { before: tryGround(heights, ground.parcel, ground.storms), sum: check_sum(heights) });
}

// Works are kept as they are saved: ends in mm from the parcel's corner, rise in tenths of a mm, half width in mm.
function rowsOf(told, ground, works) {
  return works.filter((work) => !work.isOut).flatMap((work) => work.pieces.map(([x0, y0, x1, y1]) => work_row(
    ground.heights, told.cell, work.shape, told.right + x0, told.down - y0, told.right + x1, told.down - y1, work.rise, work.half, work.slope,
  )));
}

// Metres from the parcel's corner of the middle of a cell.
function cellPlace(told, cell) {
  const row = Math.floor(cell / told.columns);
  return [((cell - row * told.columns + 0.5) * told.cell - told.right) / 1000, (told.down - (row + 0.5) * told.cell) / 1000];
}

// How far the foot of a work reaches from its middle line. [m]
const reachOf = (work) => (work.half + (work.slope * work.rise) / 10) / 1000;

// The outline of a work on the map: round at its ends, a pad square.
function outlineInMetres(work) {
  return work.pieces.map((piece) => {
    const [x0, y0, x1, y1] = piece.map((value) => value / 1000);
    if (work.kind !== 'pad') return band(x0 === x1 && y0 === y1 ? [[x0, y0]] : [[x0, y0], [x1, y1]], reachOf(work)).flat();
    const long = Math.hypot(x1 - x0, y1 - y0) || 1;
    const [nx, ny] = [(-(y1 - y0) / long) * reachOf(work), ((x1 - x0) / long) * reachOf(work)];
    return [x0 + nx, y0 + ny, x1 + nx, y1 + ny, x1 - nx, y1 - ny, x0 - nx, y0 - ny];
  });
}

// Volume that one work raises or digs out of the ground as it is. [m3]
function volumeOf(told, ground, work) {
  const rows = rowsOf(told, ground, [Object.assign({}, work, { isOut: false })]);
  const works = shaped(Float64Array.from(rows.flatMap((row) => Array.from(row))), [rows.length, 10]);
  const built = built_ground(ground.heights, told.cell, works);
  let steps = 0;
  for (let cell = 0; cell < built.length; cell += 1) steps += Math.abs(built[cell] - ground.heights[cell]);
  return (steps / STEPS_PER_METRE) * told.area;
}

function awayFromSegment(x, y, x0, y0, x1, y1) {
  const long2 = (x1 - x0) ** 2 + (y1 - y0) ** 2;
  const along = long2 ? Math.min(Math.max(((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / long2, 0), 1) : 0;
  return Math.hypot(x - x0 - along * (x1 - x0), y - y0 - along * (y1 - y0));
}

// Least distance between two rings or lines; 0 where they cross or one lies within the other. [m]
function apartFrom(ring, line, isArea) {
  if (isArea && isInside(line, ring[0], ring[1])) return 0;
  if (isInside(ring, line[0], line[1])) return 0;
  const side = (ax, ay, bx, by, x, y) => Math.sign((bx - ax) * (y - ay) - (by - ay) * (x - ax));
  let least = Infinity;
  for (let k = 0; k < ring.length; k += 2) {
    const [ax, ay] = [ring[k], ring[k + 1]];
    const [bx, by] = [ring[(k + 2) % ring.length], ring[(k + 3) % ring.length]];
    if (line.length === 2) least = Math.min(least, awayFromSegment(line[0], line[1], ax, ay, bx, by));
    for (let m = 0; m + 3 < line.length; m += 2) {
      const [cx, cy, dx, dy] = line.slice(m, m + 4);
      const isCrossed = side(ax, ay, bx, by, cx, cy) !== side(ax, ay, bx, by, dx, dy) && side(cx, cy, dx, dy, ax, ay) !== side(cx, cy, dx, dy, bx, by);
      if (isCrossed) return 0;
      least = Math.min(least, awayFromSegment(ax, ay, cx, cy, dx, dy), awayFromSegment(cx, cy, ax, ay, bx, by), awayFromSegment(dx, dy, ax, ay, bx, by));
    }
  }
  return least;
}

// The deepest water that stands within a cell of the foot of a work. [m]
function deepestBeside(told, depth, changed, work) {
  let deepest = 0;
  for (let cell = 0; cell < depth.length; cell += 1) {
    if (depth[cell] <= deepest || changed[cell]) continue;
    const [x, y] = cellPlace(told, cell);
    const isBeside = work.pieces.some((piece) => awayFromSegment(x, y, ...piece.map((value) => value / 1000)) < reachOf(work) + (1.5 * told.cell) / 1000);
    if (isBeside) deepest = depth[cell];
  }
  return deepest;
}

// What a work comes nearer to than its rule, the nearest first.
function nearThings(told, work) {
  const act = work.kind === 'swale' ? 'trenches' : 'covers';
  const rings = outlineInMetres(work);
  return told.hazards.map((thing) => ({
    thing, rule: thing[act], far: Math.min(...rings.flatMap((ring) => thing.lines.map((line) => apartFrom(ring, line, thing.isArea)))),
  })).filter((one) => one.far < Math.max(one.rule, 0.01)).sort((a, b) => a.far - b.far);
}

// Hours of sun that a work takes, on the days of the arcs, from the ground close to its side towards the pole.
function hoursTaken(work, sky) {
  const [x0, y0, x1, y1] = work.pieces[0].map((value) => value / 1000);
  const pole = sky.isSouthern ? -1 : 1;
  const x = (x0 + x1) / 2;
  let y = (y0 + y1) / 2;
  while (awayFromSegment(x, y, x0, y0, x1, y1) < reachOf(work) + BESIDE_FOOT) y += 0.05 * pole;
  return sky.arcs.map((arc) => {
    const taken = arc.elevation.filter((elevation, k) => {
      const [east, north] = [Math.sin((arc.azimuth[k] * Math.PI) / 180), Math.cos((arc.azimuth[k] * Math.PI) / 180)];
      const across = (x1 - x0) * north - (y1 - y0) * east;
      const share = ((x - x0) * north - (y - y0) * east) / across;
      const far = ((x1 - x0) * (y0 - y) - (y1 - y0) * (x0 - x)) / ((x1 - x0) * north - (y1 - y0) * east);
      return elevation > 0 && share >= 0 && share <= 1 && far > 0 && work.rise / 10000 > far * Math.tan((elevation * Math.PI) / 180);
    });
    return { day: arc.name, hours: taken.length / 2 };
  });
}

// Rings around the cells of a mask, in metres, their corners cut twice so that no staircase shows.
function ringsAround(told, mask) {
  const { rows, columns } = told;
  const next = new Map();
  const add = (from, to) => { if (next.has(from)) next.get(from).push(to); else next.set(from, [to]); };
  const corner = (row, column) => row * (columns + 1) + column;
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const cell = row * columns + column;
      if (!mask[cell]) continue;
      if (!row || !mask[cell - columns]) add(corner(row, column), corner(row, column + 1));
      if (column === columns - 1 || !mask[cell + 1]) add(corner(row, column + 1), corner(row + 1, column + 1));
      if (row === rows - 1 || !mask[cell + columns]) add(corner(row + 1, column + 1), corner(row + 1, column));
      if (!column || !mask[cell - 1]) add(corner(row + 1, column), corner(row, column));
    }
  }
  const rings = [];
  for (const start of next.keys()) {
    while (next.get(start).length) {
      const ring = [];
      let at = start;
      do {
        const row = Math.floor(at / (columns + 1));
        ring.push([((at - row * (columns + 1)) * told.cell - told.right) / 1000, (told.down - row * told.cell) / 1000]);
        at = next.get(at).pop();
      } while (at !== start);
      rings.push(cutCorners(cutCorners(middles(ring))).flat());
    }
  }
  return rings;
}

// The middles of a ring's sides: what is left of a staircase is a slope.
function middles(ring) {
  return ring.map(([x, y], k) => {
    const [x1, y1] = ring[(k + 1) % ring.length];
    return [(x + x1) / 2, (y + y1) / 2];
  });
}

function cutCorners(ring) {
  return ring.flatMap(([x, y], k) => {
    const [x1, y1] = ring[(k + 1) % ring.length];
    return [[0.75 * x + 0.25 * x1, 0.75 * y + 0.25 * y1], [0.25 * x + 0.75 * x1, 0.25 * y + 0.75 * y1]];
  });
}

// A change as a small file: plain GeoJSON on the parcel's own plane, which tells no place on earth.
function savedChange(told, ground, name, works, found) {
  const metres = (value) => Math.round(value) / 1000;
  const features = works.filter((work) => work.isTried || work.isOut).map((work) => ({
    type: 'Feature',
    geometry: work.isOut ? null : { type: 'LineString', coordinates: [work.pieces[0].slice(0, 2).map(metres), work.pieces[0].slice(2).map(metres)] },
    properties: Object.assign({ kind: work.kind, status: work.isOut ? 'left out' : 'wanted' }, work.thing ? { replaces: work.name } : { name: work.name },
      work.isOut ? {} : { [work.kind === 'swale' ? 'depth' : 'height']: work.rise / 10000, width: work.half / 500 }, work.slope && !work.isOut ? { side_slope: work.slope } : {}),
  }));
  return {
    type: 'FeatureCollection', plane: 'parcel', name, ground: ground.sum, cell: told.cell / 1000,
    answer: {
      next_door: found.rises[0].height, house: found.rises[1].height, road: found.rises[2].height,
      standing_before: found.standing[0][0] * told.area, standing_after: found.standing[1][0] * told.area,
      outlets: found.outlets.map((one) => one.area),
    },
    features,
  };
}

// Take a saved change back up; throws where the file is none.
function openedChange(told, text) {
  const saved = JSON.parse(text);
  if (saved.plane !== 'parcel' || !Array.isArray(saved.features)) throw new Error('no saved change');
  const whole = (value, times) => Math.round(value * times);
  const changed = saved.features.map(({ geometry, properties }, number) => {
    const old = told.planned.find((work) => work.name === properties.replaces);
    if (!geometry) return Object.assign({}, old, { isOut: true });
    const ends = [geometry.coordinates.flat().map((value) => whole(value, 1000))];
    return {
      name: properties.replaces || properties.name || 'new ' + properties.kind + ' ' + (number + 1), thing: old && old.thing, kind: properties.kind, shape: told.shapes[properties.kind], pieces: ends,
      rise: whole(properties[properties.kind === 'swale' ? 'depth' : 'height'], 10000), half: whole(properties.width, 500), slope: properties.side_slope || 0, isTried: true,
    };
  });
  return told.planned.filter((work) => !changed.some((other) => other.name === work.name)).concat(changed.filter((work) => work.kind));
}
