// Water on a ground that is only tried: what stands between the kernels, which are written from the program's own.

// Cells of hollows from the lowest up, those of one height in reading order.
function sortedByHeight(heights, hollow) {
  let cells = new Int32Array(hollow.length);
  let count = 0;
  let [least, most] = [Infinity, -Infinity];
  for (let cell = 0; cell < hollow.length; cell += 1) {
    if (hollow[cell] === 0) continue;
    cells[count] = cell;
    count += 1;
    least = Math.min(least, heights[cell]);
    most = Math.max(most, heights[cell]);
  }
  cells = cells.subarray(0, count);
  let other = new Int32Array(count);
  for (let unit = 1; unit <= most - least; unit *= 2048) {
    const digit = (cell) => Math.floor((heights[cell] - least) / unit) % 2048;
    const starts = new Int32Array(2049);
    for (let k = 0; k < cells.length; k += 1) starts[digit(cells[k]) + 1] += 1;
    for (let k = 0; k < 2048; k += 1) starts[k + 1] += starts[k];
    for (let k = 0; k < cells.length; k += 1) {
      const place = digit(cells[k]);
      other[starts[place]] = cells[k];
      starts[place] += 1;
    }
    [cells, other] = [other, cells];
  }
  return cells;
}

// The tree of hollows, a column of its table for each of what is known of a hollow.
function nestHollows(heights, hollow, spill) {
  const cells = sortedByHeight(heights, hollow);
  const [node, leaf, table] = nested(heights, hollow, spill, cells, heights.shape[1]);
  const tree = { cells, node, leaf };
  ['parent', 'sibling', 'link', 'outermost', 'pit', 'pitCell', 'spill', 'spillCell', 'size', 'total'].forEach((name, k) => {
    tree[name] = Float64Array.from({ length: table.shape[0] }, (_, one) => table[one * 10 + k]);
  });
  tree.capacity = tree.spill.map((level, one) => (level * tree.size[one] - tree.total[one]) * DROPS_PER_STEP);
  return tree;
}

// Hollows upstream first, and in each the smaller ones before those that hold them.
function settlingOrder(order, spill, outermost, size) {
  const firstAt = new Int32Array(size);
  const next = new Int32Array(spill.length);
  for (let number = spill.length - 1; number > 0; number -= 1) {
    next[number] = firstAt[spill[number]];
    firstAt[spill[number]] = number;
  }
  const turn = new Int32Array(spill.length);
  let count = 0;
  for (let place = order.length - 1; place >= 0; place -= 1) {
    for (let number = firstAt[order[place]]; number > 0; number = next[number]) {
      turn[number] = count;
      count += 1;
    }
  }
  const starts = new Int32Array(spill.length + 1);
  for (const number of outermost) starts[turn[number] + 1] += 1;
  for (let k = 0; k < spill.length; k += 1) starts[k + 1] += starts[k];
  const sequence = new Float64Array(outermost.length);
  outermost.forEach((number, one) => {
    sequence[starts[turn[number]]] = one;
    starts[turn[number]] += 1;
  });
  return sequence;
}

// Depth of the water that one storm leaves standing on each cell. [m]
function standingDepth(heights, receiver, order, spill, tree, drops) {
  const pitOf = new Int32Array(receiver.length).fill(-1);
  for (let place = 0; place < tree.cells.length; place += 1) pitOf[tree.cells[place]] = tree.leaf[place];
  const sequence = settlingOrder(order, spill, tree.outermost, receiver.length);
  const [water] = poured(receiver, order, spill, drops, pitOf, sequence, tree.parent, tree.sibling, tree.link, tree.outermost, tree.capacity);
  const surface = surfaces(heights, tree.cells, tree.node, covering(tree.parent, water), water);
  const depth = new Float64Array(heights.length);
  for (let place = 0; place < tree.cells.length; place += 1) {
    const cell = tree.cells[place];
    depth[cell] = Math.max(surface[tree.node[place]] - heights[cell], 0) / STEPS_PER_METRE;
  }
  return depth;
}

// As the program's own trial: where water stands after each storm, and where it leaves the parcel from how many cells.
function tryGround(heights, parcel, storms) {
  const level = filled(heights);
  const receiver = steepest_receivers(level, heights);
  const [hollow, spill] = route_level_ground(level, heights, receiver);
  const [order, cells] = accumulated(receiver);
  const tree = nestHollows(heights, hollow, spill);
  const exits = exits_of(receiver, parcel);
  return {
    receiver, exits,
    exitCells: exits.map((cell) => cells[cell]),
    depths: storms.map((drops) => standingDepth(heights, receiver, order, spill, tree, drops)),
  };
}

// What leaves over each piece of the boundary, and over a width of edge around it. [m2]
function leaving(ground, trial) {
  const at = Float64Array.from(trial.exits, (cell) => ground.pieceOf.get(cell));
  const area = Float64Array.from(trial.exitCells, (count) => count * ground.cellArea);
  const alone = summed_by_piece(at, area, ground.around.wide.shape[0]);
  return { alone, gathered: summed_around(alone, ground.around.wide) };
}

// Everything run again with rows of works built in, and held against the ground as it is.
function weighChange(ground, before, rows) {
  const works = shaped(Float64Array.from(rows.flatMap((row) => Array.from(row))), [rows.length, 10]);
  const built = built_ground(ground.heights, ground.cell, works);
  const changed = changed_cells(ground.heights, built);
  const after = tryGround(built, ground.parcel, ground.storms);
  const unchanged = new Uint8Array(changed.length);
  const last = after.depths.length - 1;
  const [was, is] = [leaving(ground, before), leaving(ground, after)];
  const { near, apart, wide } = ground.around;
  const grown = outlets_that_grow(was.gathered, is.gathered, is.alone, near, apart, wide, ground.share);
  return {
    after, changed, built,
    rises: ground.places.map((mask) => highestRise(before, after, changed, mask)),
    standing: [standing_water(before.depths[last], unchanged, ground.parcel), standing_water(after.depths[last], changed, ground.parcel)],
    outlets: Array.from({ length: grown.length / 3 }, (_, k) => ({
      piece: grown[3 * k], area: is.gathered[grown[3 * k + 1]], was: was.gathered[grown[3 * k + 2]],
    })),
  };
}

// The highest rise after any storm; where water only falls, the deepest fall; where nothing is drawn, none.
function highestRise(before, after, changed, mask) {
  if (!mask.includes(1)) return { height: 0, cell: 0, storm: 0 };
  const found = after.depths.map((depth, storm) => {
    const [highest, high, lowest, low] = extreme_rises(before.depths[storm], depth, changed, mask);
    return { storm, highest, high, lowest, low };
  });
  const up = found.reduce((best, one) => (one.highest > best.highest ? one : best));
  if (up.highest > 0) return { height: up.highest, cell: up.high, storm: up.storm };
  const down = found.reduce((best, one) => (one.lowest < best.lowest ? one : best));
  return { height: down.lowest, cell: down.low, storm: down.storm };
}
