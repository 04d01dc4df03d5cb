// Tools one step behind the questions: tape, slope, the values under the finger, and where one stands.

function makeSpeech(isImperial) {
  const unit = isImperial ? 0.3048 : 1;
  const grouped = (n) => n.toLocaleString('en-US');
  function far(metres) {
    let count = Math.floor(metres / unit + 0.5);
    if (count >= 100) count = 5 * Math.floor(metres / unit / 5 + 0.5);
    return grouped(count) + '\u00a0' + (isImperial ? 'ft' : 'm');
  }
  function tape(metres) {
    if (!isImperial) return metres.toFixed(metres < 10 ? 2 : 1) + '\u00a0m';
    const inches = Math.round(metres / 0.0254);
    const feet = Math.floor(inches / 12);
    return (feet ? grouped(feet) + '\u00a0ft\u00a0' : '') + (inches % 12) + '\u00a0in';
  }
  // How high or wide a built thing is, to half an inch or a centimetre: as cards say it.
  function size(metres) {
    const steps = Math.floor(metres / (isImperial ? 0.0127 : 0.01) + 0.5);
    if (!isImperial) return steps < 100 ? steps + '\u00a0cm' : (steps / 100).toFixed(2) + '\u00a0m';
    const [feet, halves] = [Math.floor(steps / 24), steps % 24];
    const inches = (halves === 1 ? '' : Math.floor(halves / 2)) + (halves % 2 ? '½' : '') + '\u00a0in';
    return [feet ? grouped(feet) + '\u00a0ft' : '', halves || !feet ? inches : ''].filter(Boolean).join('\u00a0');
  }
  function rise(metres) {
    if (!isImperial) return Math.round(metres * 100) + '\u00a0cm';
    const halves = Math.round(metres / 0.0127);
    const inches = Math.floor(halves / 2);
    const text = (inches || !(halves % 2) ? inches : '') + (halves % 2 ? '½' : '') + '\u00a0in';
    return inches >= 24 ? tape(metres) : text;
  }
  function way(east, north) {
    const names = ['north', 'north-east', 'east', 'south-east', 'south', 'south-west', 'west', 'north-west'];
    const degrees = (Math.atan2(east, north) * 180) / Math.PI;
    return names[((Math.round(degrees / 45) % 8) + 8) % 8];
  }
  function fall(run, drop) {
    if (Math.abs(drop) < run * 0.001) return 'level';
    return '1\u00a0in\u00a0' + grouped(Math.max(1, Math.round(run / Math.abs(drop))));
  }
  return { far, tape, size, rise, way, fall };
}

function whereIs(start, speech, x, y) {
  const east = x - start.at[0];
  const north = y - start.at[1];
  const away = Math.hypot(east, north);
  return away < 3 ? 'at ' + start.name : speech.far(away) + ' ' + speech.way(east, north) + ' of ' + start.name;
}

// Tape and slope share one line of taps.
function makeMeasure(map, reader, speech, bar, over) {
  let kind = null;
  let points = [];
  const words = bar.querySelector('.measure-words');
  const named = { tape: 'Tape.', slope: 'Slope.' };

  function begin(which) {
    kind = which;
    points = [];
    bar.hidden = false;
    document.body.classList.add('is-measuring');
    reader.open().then(() => say());
    say();
    redraw();
  }

  function end() {
    kind = null;
    points = [];
    bar.hidden = true;
    document.body.classList.remove('is-measuring');
    redraw();
  }

  function add(x, y) {
    if (kind === 'slope' && points.length === 2) points = [];
    points.push([x, y]);
    say();
    redraw();
  }

  function back() {
    points.pop();
    say();
    redraw();
  }

  function heightOf(point) {
    try {
      return reader.heightAt(point[0], point[1]);
    } catch (problem) {
      return null;
    }
  }

  function say() {
    words.textContent = named[kind] + ' ' + reading();
  }

  function reading() {
    if (points.length < 2) return points.length ? 'Tap the other end.' : 'Tap one end.';
    const [from, to] = points.slice(-2);
    const last = distance(from, to);
    const [low, high] = [heightOf(from), heightOf(to)];
    const climb = low === null || high === null ? null : high - low;
    if (kind === 'slope') {
      if (climb === null) return 'No heights at one end.';
      const percent = ((100 * Math.abs(climb)) / Math.max(last, 0.01)).toFixed(1);
      const verb = climb > 0.003 ? 'rises ' : climb < -0.003 ? 'falls ' : 'stays level over ';
      if (verb.startsWith('stays')) return verb + speech.tape(last) + '.';
      return verb + speech.rise(Math.abs(climb)) + ' over ' + speech.tape(last) + ': ' + speech.fall(last, climb) + ', ' + percent + ' in 100.';
    }
    let total = 0;
    for (let k = 1; k < points.length; k += 1) total += distance(points[k - 1], points[k]);
    const all = points.length > 2 ? speech.tape(total) + ' in all; last piece ' + speech.tape(last) : speech.tape(last);
    if (climb === null) return all + '.';
    if (Math.abs(climb) < 0.006) return all + ', level.';
    return all + ', ' + (climb < 0 ? 'down ' : 'up ') + speech.rise(Math.abs(climb)) + '.';
  }

  function redraw() {
    over.querySelectorAll('.measured').forEach((one) => one.remove());
    if (!kind) return;
    const group = draw(over, 'g', { class: 'measured' });
    const scale = map.options.crs.scale(map.getZoom());
    const origin = map.getPixelOrigin();
    const spots = points.map((p) => [p[0] * scale - origin.x, -p[1] * scale - origin.y]);
    draw(group, 'path', { d: trace(spots), class: 'edge', 'stroke-width': 6 });
    draw(group, 'path', { d: trace(spots), class: 'pen-ink', 'stroke-width': 2.2 });
    for (const [x, y] of spots) draw(group, 'circle', { cx: tenth(x), cy: tenth(y), r: 4.5, class: 'tap' });
  }

  bar.querySelector('.measure-middle').addEventListener('click', () => {
    const middle = map.getCenter();
    add(middle.lng, middle.lat);
  });
  bar.querySelector('.measure-back').addEventListener('click', back);
  bar.querySelector('.measure-end').addEventListener('click', end);
  return { begin, end, add, redraw, isOn: () => kind !== null };
}

// Where one stands, only when asked, only on the device, and only if the grower tied the page to the earth.
function makeWhereabouts(map, share, speech, start, tell, over) {
  let watch = null;
  let spot = null;

  function toggle() {
    if (watch !== null) {
      navigator.geolocation.clearWatch(watch);
      watch = null;
      spot = null;
      tell('');
      redraw();
      return;
    }
    if (!('geolocation' in navigator)) {
      tell('This device cannot say where it is.');
      return;
    }
    tell('Asking the device where it is…');
    watch = navigator.geolocation.watchPosition(found, () => tell('The device would not say where it is.'), { enableHighAccuracy: true, maximumAge: 5000 });
  }

  function found(position) {
    const east = position.coords.longitude - share.longitude;
    const north = position.coords.latitude - share.latitude;
    const x = share.x[0] + share.x[1] * east + share.x[2] * north;
    const y = share.y[0] + share.y[1] * east + share.y[2] * north;
    spot = [x, y, position.coords.accuracy];
    tell('You are ' + whereIs(start, speech, x, y) + ', within ' + speech.far(position.coords.accuracy) + '.');
    redraw();
  }

  function redraw() {
    over.querySelectorAll('.you').forEach((one) => one.remove());
    if (!spot) return;
    const scale = map.options.crs.scale(map.getZoom());
    const origin = map.getPixelOrigin();
    const [x, y] = [spot[0] * scale - origin.x, -spot[1] * scale - origin.y];
    const group = draw(over, 'g', { class: 'you' });
    drawYou(group, x, y, Math.max(12, spot[2] * scale));
    write(group, x, y - 12, 'you', { class: 'name bold middle' });
  }

  return { toggle, redraw, isOn: () => watch !== null };
}
