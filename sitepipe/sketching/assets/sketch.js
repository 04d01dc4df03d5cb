/* The page to draw a site on. Every word that comes from data is set as text, never as markup. */
(function () {
  "use strict";
  const site = JSON.parse(document.getElementById("site").textContent);
  const imperial = site.units === "imperial";
  const FOOT = 0.3048;
  const el = (id) => document.getElementById(id);
  const make = (tag, text, attributes) => {
    const node = document.createElement(tag);
    if (text !== undefined && text !== null) node.textContent = text;
    for (const [key, value] of Object.entries(attributes || {})) node.setAttribute(key, value);
    return node;
  };
  const button = (text, action, attributes) => {
    const node = make("button", text, { type: "button", ...(attributes || {}) });
    node.addEventListener("click", action);
    return node;
  };

  /* ---- lengths ------------------------------------------------------------------------------------------------ */
  const METRES = { mm: 0.001, cm: 0.01, m: 1, metre: 1, metres: 1, meter: 1, meters: 1, km: 1000, in: 0.0254, inch: 0.0254,
    inches: 0.0254, '"': 0.0254, ft: FOOT, foot: FOOT, feet: FOOT, "'": FOOT, yd: 0.9144, yard: 0.9144, yards: 0.9144 };
  function readNumber(text) {
    return text.trim().split(/[\s-]+/).reduce((sum, piece) => {
      const parts = piece.split("/");
      return sum + (parts.length === 2 ? Number(parts[0]) / Number(parts[1]) : Number(piece));
    }, 0);
  }
  function readLength(text) {
    const part = /^\s*(\d+\s+\d+\/\d+|\d+-\d+\/\d+|\d+\/\d+|\d*\.\d+|\d+\.?)\s*([a-zA-Z]+|"|')?\s*/;
    let rest = text.trim().replace(/[′’]/g, "'").replace(/[″”]/g, '"');
    if (!rest) return null;
    let total = 0;
    while (rest) {
      const found = part.exec(rest);
      if (!found) return null;
      const unit = found[2] === undefined ? (imperial ? "ft" : "m") : found[2].toLowerCase();
      if (!Object.hasOwn(METRES, unit)) return null;
      total += readNumber(found[1]) * METRES[unit];
      rest = rest.slice(found[0].length);
    }
    return Number.isFinite(total) && total > 0 ? total : null;
  }
  function sayLength(metres) {
    if (!imperial) return (metres < 10 ? metres.toFixed(2) : metres.toFixed(1)) + "\u00a0m";
    const inches = Math.round(metres / 0.0254);
    return inches < 120 ? Math.floor(inches / 12) + "\u00a0ft " + (inches % 12) + "\u00a0in" : Math.round(metres / FOOT) + "\u00a0ft";
  }
  function sayArea(area) {
    const amount = imperial ? area / (FOOT * FOOT) : area;
    return Math.round(amount).toLocaleString("en-US") + (imperial ? "\u00a0sq\u00a0ft" : "\u00a0m²");
  }

  /* ---- what is drawn ------------------------------------------------------------------------------------------- */
  const SHAPE_WORDS = { Polygon: "As an area", LineString: "As a line", Point: "As a point" };
  let things = site.things;
  let past = [];
  let draft = null;
  let editing = null;
  let placing = null;
  const key = "sketch " + site.key;
  const copy = (value) => JSON.parse(JSON.stringify(value));
  function remember() { past.push(copy(things)); if (past.length > 100) past.shift(); }
  let holding = false;
  function keep() {
    if (holding) return;
    try { localStorage.setItem(key, JSON.stringify(things)); } catch (error) { /* no store on this device */ }
  }
  function say(text, wrong) {
    el("say").textContent = text;
    el("say").className = wrong ? "wrong" : "";
  }

  /* ---- the map -------------------------------------------------------------------------------------------------- */
  const [west, south, east, north] = site.bounds;
  const at = (place) => L.latLng(place[1], place[0]);
  const back = (latlng) => [round(latlng.lng), round(latlng.lat)];
  const round = (value) => Math.round(value * 1000) / 1000;
  const map = L.map("ground", { crs: L.CRS.Simple, zoomControl: false, attributionControl: false, zoomSnap: 0.25, minZoom: -6,
    maxZoom: 8, doubleClickZoom: false, keyboardPanDelta: 40 });
  map.fitBounds([[south, west], [north, east]]);
  el("ground").setAttribute("aria-label", "The ground to draw on. Arrow keys move it, plus and minus change the size, Enter puts a corner at the cross.");
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  map.createPane("relief").style.zIndex = 150;
  if (site.picture) L.imageOverlay(site.picture.address, [[site.picture.south, site.picture.west], [site.picture.north, site.picture.east]],
    { pane: "relief", alt: "" }).addTo(map);
  const ground = { interactive: false, pmIgnore: true, renderer: L.svg({ padding: 0.5 }) };
  for (const line of site.levels) L.polyline(line.map(at), { ...ground, color: colour("--soft"), weight: 0.75, opacity: 0.8 }).addTo(map);
  for (const line of site.flow) L.polyline(line.map(at), { ...ground, color: colour("--blue"), weight: 2 }).addTo(map);
  for (const line of site.grid) L.polyline(line.line.map(at), { ...ground, color: colour("--soft"), weight: line.strong ? 1 : 0.5,
    opacity: 0.6 }).addTo(map);
  const layers = L.layerGroup().addTo(map);
  const drafts = L.layerGroup().addTo(map);

  const LOOK = { parcel: { dashArray: "12 4 2 4", weight: 2 }, "keep clear": { dashArray: "6 3" }, "buried line": { dashArray: "9 5" },
    culvert: { weight: 3 }, building: { weight: 2.5 }, water: { color: "--blue" }, ditch: { color: "--blue", dashArray: "7 4" },
    road: { weight: 1.5 } };
  /* Ink stands, red is wanted, broken red was proposed. */
  const statusOf = (thing) => thing.more.status || site.statuses[thing.kind];
  function lookOf(thing) {
    const look = { color: statusOf(thing) === "wanted" ? "--red" : "--ink", weight: 1.8, fillOpacity: thing.kind === "parcel" ? 0 : 0.12,
      ...(LOOK[thing.kind] || {}) };
    return { ...look, color: colour(look.color), fillColor: colour(look.color) };
  }
  function layerOf(thing, more) {
    const look = { ...lookOf(thing), ...(more || {}) };
    const geometry = thing.geometry;
    if (geometry.type === "Point") {
      const wide = readLength(String(thing.width || "")) || 0;
      return wide > 0.5 && thing.kind === "tree"
        ? L.circle(at(geometry.coordinates), { ...look, radius: wide / 2 })
        : L.circleMarker(at(geometry.coordinates), { ...look, radius: 6, fillOpacity: 0.6 });
    }
    if (geometry.type === "LineString") return L.polyline(geometry.coordinates.map(at), { ...look, fill: false });
    if (geometry.type === "Polygon") return L.polygon(geometry.coordinates.map((ring) => ring.slice(0, -1).map(at)), look);
    if (geometry.type === "MultiPolygon")
      return L.polygon(geometry.coordinates.map((part) => part.map((ring) => ring.slice(0, -1).map(at))), look);
    if (geometry.type === "MultiLineString") return L.polyline(geometry.coordinates.map((part) => part.map(at)), { ...look, fill: false });
    return L.layerGroup(geometry.coordinates.map((place) => L.circleMarker(at(place), look)));
  }
  function nameOf(thing) { return thing.name || thing.kind + (thing.more.number ? " " + thing.more.number : ""); }
  function proposed() {
    return site.proposed.filter((work) => !things.some((thing) => thing.kind === work.kind && thing.more.number === work.more.number));
  }
  function show(except) {
    layers.clearLayers();
    const left = proposed();
    [...things, ...left].filter((thing) => thing !== except).forEach((thing) => {
      const layer = layerOf(thing, left.includes(thing) ? { dashArray: "7 4", fillOpacity: 0 } : {});
      layer.addTo(layers);
      if (layer.bindTooltip) {
        const label = make("span", nameOf(thing).slice(0, 40));
        layer.bindTooltip(label, { permanent: true, direction: thing.geometry.type === "Point" ? "right" : "center", className: "name",
          interactive: false });
      }
    });
  }
  function redraw() {
    show();
    list();
    keep();
  }

  /* ---- measures ------------------------------------------------------------------------------------------------- */
  const between = (a, b) => Math.hypot(b[0] - a[0], b[1] - a[1]);
  function lengthOf(places, closed) {
    let total = 0;
    for (let k = 1; k < places.length; k += 1) total += between(places[k - 1], places[k]);
    return closed && places.length > 2 ? total + between(places[places.length - 1], places[0]) : total;
  }
  function areaOf(places) {
    let twice = 0;
    places.forEach((place, k) => {
      const next = places[(k + 1) % places.length];
      twice += place[0] * next[1] - next[0] * place[1];
    });
    return Math.abs(twice) / 2;
  }
  function crossesItself(places) {
    const n = places.length;
    const turn = (a, b, c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
    for (let i = 0; i < n; i += 1)
      for (let j = i + 2; j < n; j += 1) {
        if (i === 0 && j === n - 1) continue;
        const [a, b, c, d] = [places[i], places[(i + 1) % n], places[j], places[(j + 1) % n]];
        if (turn(a, b, c) !== turn(a, b, d) && turn(c, d, a) !== turn(c, d, b)) return true;
      }
    return false;
  }
  function measured(shape, places) {
    if (shape === "Point" || places.length === 0) return places.length ? "One point." : "No point yet.";
    if (shape === "LineString") return places.length + (places.length === 1 ? " point, " : " points, ") + sayLength(lengthOf(places, false)) + " long.";
    const count = places.length + (places.length === 1 ? " corner" : " corners");
    return places.length < 3 ? count + ", " + sayLength(lengthOf(places, false)) + " so far."
      : count + ", " + sayLength(lengthOf(places, true)) + " round, about " + sayArea(areaOf(places)) + ".";
  }

  /* ---- named points, for tapes and for snapping ------------------------------------------------------------------ */
  function corners(geometry) {
    const flat = [];
    const walk = (value) => { if (typeof value[0] === "number") flat.push(value); else value.forEach(walk); };
    walk(geometry.coordinates);
    return geometry.type === "Polygon" ? flat.slice(0, -1) : flat;
  }
  function namedPoints() {
    const found = [];
    for (const thing of things) {
      const places = corners(thing.geometry);
      places.forEach((place, k) => found.push({ name: places.length === 1 ? nameOf(thing) : nameOf(thing) + ", corner " + (k + 1), place }));
    }
    return found;
  }
  function snapped(latlng) {
    if (!el("snap").checked) return back(latlng);
    const here = map.latLngToContainerPoint(latlng);
    let best = null;
    let least = 18;
    const candidates = namedPoints().map((point) => point.place).concat(draft ? draft.places : []);
    for (const place of candidates) {
      const distance = here.distanceTo(map.latLngToContainerPoint(at(place)));
      if (distance < least) { least = distance; best = place; }
    }
    return best ? best.slice() : back(latlng);
  }

  /* ---- drawing --------------------------------------------------------------------------------------------------- */
  function begin(kind, shape) {
    if (placing) { busy(); return; }
    stopEditing();
    const thing = { kind, name: "", height: "", width: "", more: {}, geometry: { type: shape } };
    draft = { kind, shape, places: [], thing, read: words(thing) };
    document.body.classList.add("drawing");
    showDraft();
    say("Tap the ground to put a " + (shape === "Point" ? "point" : "corner") + ", or use one of the ways below.");
    el("ground").focus();
  }
  function add(place) {
    if (!draft) return;
    if (draft.shape === "Point") draft.places = [place]; else {
      const last = draft.places[draft.places.length - 1];
      if (last && between(last, place) < 0.005) return;
      if (draft.shape === "Polygon" && draft.places.length > 2 && between(draft.places[0], place) < 0.005) { say("Closed: say what it is called, then keep it."); return; }
      draft.places.push(place);
    }
    showDraft();
  }
  function showDraft() {
    drafts.clearLayers();
    if (draft) {
      const look = { color: colour("--red"), weight: 2.5, dashArray: "7 4", interactive: false, pmIgnore: true };
      if (draft.places.length > 1) (draft.shape === "Polygon" ? L.polygon(draft.places.map(at), { ...look, fillOpacity: 0.1 })
        : L.polyline(draft.places.map(at), look)).addTo(drafts);
      draft.places.forEach((place) => L.circleMarker(at(place), { radius: 4, color: colour("--red"), fillOpacity: 1, interactive: false,
        pmIgnore: true }).addTo(drafts));
    }
    panel();
  }
  function finish() {
    const least = { Polygon: 3, LineString: 2, Point: 1 }[draft.shape];
    if (draft.places.length < least) { say("That needs at least " + least + " " + (least === 1 ? "point" : "corners") + ".", true); return; }
    if (draft.shape === "Polygon" && crossesItself(draft.places)) { say("The outline crosses itself: take back the last corners.", true); return; }
    if (draft.shape === "Polygon" && areaOf(draft.places) < 0.01) { say("The corners lie on one line: an area needs room.", true); return; }
    const coordinates = draft.shape === "Point" ? draft.places[0]
      : draft.shape === "LineString" ? draft.places : [draft.places.concat([draft.places[0].slice()])];
    if (!draft.read()) return;
    remember();
    draft.thing.geometry.coordinates = coordinates;
    things.push(draft.thing);
    panel.kind = undefined;
    stopDrawing();
    redraw();
    say("Kept.");
  }
  function stopDrawing() {
    draft = null;
    el("words").textContent = "";
    drafts.clearLayers();
    document.body.classList.remove("drawing");
    panel();
  }
  map.on("click", (event) => { if (placing) spot(back(event.latlng)); else if (draft) add(snapped(event.latlng)); });
  el("ground").addEventListener("keydown", (event) => {
    if (event.key === "Enter" && draft && event.target === el("ground")) { add(snapped(map.getCenter())); event.preventDefault(); }
  });
  document.addEventListener("keydown", (event) => {
    const typing = ["INPUT", "SELECT"].includes(event.target.tagName);
    if (event.key === "Escape") { if (draft) { stopDrawing(); say("Left without drawing."); } else stopEditing(); }
    if ((event.key === "z" && (event.ctrlKey || event.metaKey)) && !typing) { undo(); event.preventDefault(); }
    if (event.key === "Backspace" && draft && !typing) { draft.places.pop(); showDraft(); event.preventDefault(); }
  });
  function undo() {
    if (draft && draft.places.length) { draft.places.pop(); showDraft(); return; }
    if (!past.length) { say("Nothing to take back.", true); return; }
    stopEditing(true);
    things = past.pop();
    redraw();
    panel();
    say("Taken back.");
  }

  /* ---- measured corners ------------------------------------------------------------------------------------------ */
  function field(parent, label, id, value, options) {
    const holder = make("label");
    holder.append(make("span", label));
    const input = make("input", null, { type: "text", id, ...(options || {}) });
    input.value = value || "";
    holder.append(input);
    parent.append(holder);
    return input;
  }
  function choice(parent, label, id, entries, value) {
    const holder = make("label");
    holder.append(make("span", label));
    const select = make("select", null, { id });
    entries.forEach(([code, text]) => select.append(make("option", text, { value: code })));
    if (value !== undefined) select.value = value;
    holder.append(select);
    parent.append(holder);
    return select;
  }
  function byLength(parent) {
    const box = make("fieldset");
    box.append(make("legend", "By length and direction"));
    const points = namedPoints();
    const from = choice(box, "From", "from", [["last", "the last corner"]].concat(points.map((point, k) => [String(k), point.name])));
    const length = field(box, "Length, such as " + (imperial ? "24 ft 6 in" : "7.4 m"), "length");
    const bearing = field(box, "Direction in degrees: 0 north, 90 east, 180 south, 270 west", "bearing", "", { inputmode: "decimal" });
    box.append(button("Put the corner", () => {
      const start = from.value === "last" ? draft.places[draft.places.length - 1] : points[Number(from.value)].place;
      const metres = readLength(length.value);
      const degrees = Number(bearing.value);
      if (!start) { say("There is no corner yet to measure from: tap one, or choose a named point.", true); return; }
      if (metres === null) { say("\u201c" + length.value + "\u201d is not a length: write a number and a unit.", true); return; }
      if (bearing.value.trim() === "" || !Number.isFinite(degrees)) { say("The direction must be a number of degrees.", true); return; }
      const angle = degrees * Math.PI / 180;
      add([round(start[0] + metres * Math.sin(angle)), round(start[1] + metres * Math.cos(angle))]);
      say("Put " + sayLength(metres) + " away.");
    }));
    parent.append(box);
  }
  function byTapes(parent) {
    const points = namedPoints();
    const box = make("fieldset");
    box.append(make("legend", "By two tapes"));
    if (points.length < 2) { box.append(make("p", "Draw two named points first, such as gate posts or house corners.", { class: "quiet" })); parent.append(box); return; }
    const entries = points.map((point, k) => [String(k), point.name]);
    const first = choice(box, "First tape from", "tape-a", entries, "0");
    const one = field(box, "reads", "reads-a");
    const second = choice(box, "Second tape from", "tape-b", entries, "1");
    const two = field(box, "reads", "reads-b");
    const side = choice(box, "Standing at the first and looking to the second, the corner lies", "side", [["left", "to the left"], ["right", "to the right"]]);
    box.append(button("Put the corner", () => {
      const [a, b] = [points[Number(first.value)].place, points[Number(second.value)].place];
      const [ra, rb] = [readLength(one.value), readLength(two.value)];
      if (ra === null || rb === null) { say("Both tapes need a reading, a number and a unit.", true); return; }
      const place = meet(a, ra, b, rb, side.value === "left");
      if (typeof place === "string") { say(place, true); return; }
      add(place);
      say("Put where the tapes meet.");
    }));
    parent.append(box);
  }
  function meet(a, ra, b, rb, left) {
    const base = between(a, b);
    if (base < 0.05) return "The two tapes start at the same place: choose two points that are apart.";
    if (ra + rb < base || Math.abs(ra - rb) > base) return "Tapes of these lengths do not meet: the points are " + sayLength(base) + " apart. Measure again.";
    const along = (ra * ra - rb * rb + base * base) / (2 * base);
    const across = Math.sqrt(Math.max(ra * ra - along * along, 0));
    const angle = Math.acos(Math.min(1, Math.max(-1, (ra * ra + rb * rb - base * base) / (2 * ra * rb)))) * 180 / Math.PI;
    if (angle < 30 || angle > 150) return "The tapes meet at " + Math.round(angle) + " degrees: too flat to trust. Measure from another pair of points.";
    const [ux, uy] = [(b[0] - a[0]) / base, (b[1] - a[1]) / base];
    const turn = left ? 1 : -1;
    return [round(a[0] + along * ux - turn * across * uy), round(a[1] + along * uy + turn * across * ux)];
  }

  /* ---- the panel -------------------------------------------------------------------------------------------------- */
  function panel() {
    const tools = el("tools");
    tools.textContent = "";
    if (draft) {
      tools.append(make("h2", "Drawing: " + draft.kind));
      tools.append(make("p", measured(draft.shape, draft.places), { id: "measure" }));
      const row = make("div", null, { class: "row" });
      row.append(button("Keep", finish, { class: "main", id: "keep" }), button("Take back", undo, { id: "take-back" }),
        button("Corner at the cross", () => add(snapped(map.getCenter())), { id: "at-cross" }), button("Leave", () => { stopDrawing(); say("Left without drawing."); }));
      tools.append(row);
      const ways = make("details");
      ways.append(make("summary", "Measured corners"));
      byLength(ways);
      byTapes(ways);
      ways.open = panel.measuring === true;
      ways.addEventListener("toggle", () => { panel.measuring = ways.open; });
      tools.append(ways);
      return;
    }
    const kind = choice(tools, "What do you want to draw?", "kind", Object.keys(site.kinds).map((name) => [name, name]), panel.kind || nextKind());
    const row = make("div", null, { class: "row", id: "shapes" });
    const offer = () => {
      panel.kind = kind.value;
      row.textContent = "";
      site.kinds[kind.value].forEach((shape, k) => row.append(button(SHAPE_WORDS[shape], () => begin(kind.value, shape),
        { class: k === 0 ? "main" : "", "data-shape": shape })));
    };
    kind.addEventListener("change", offer);
    offer();
    tools.append(row);
  }
  function nextKind() { return things.some((thing) => thing.kind === "parcel") ? "building" : "parcel"; }

  /* ---- words of one thing ------------------------------------------------------------------------------------------ */
  const EXTRA = { tree: [["trunk_height", "Clear trunk below the crown"], ["evergreen", null]], hedge: [["evergreen", null]],
    observation: [["seen", ["", "wet", "rushes", "dry"]], ["hours", "Hours after the rain"], ["date", "Date, year-month-day"]],
    road: [["surface", ["", "paved", "gravel", "dirt", "grass"]]], ditch: [["depth", "Depth below the ground beside it"]],
    "keep clear": [["of", "Only of these works: mound, path, bed ..."]],
    "buried line": [["note", "What it is and how sure you are"]], "fixed point": [["bench_mark", null]], swale: [["depth", "Depth"]] };
  const STATUS = [["status", ["wanted", "standing"]], ["built", "If it stands: built on, year-month-day"]];
  const BEARING = [["bearing", "Direction of its ridge in degrees: 0 north, 90 east"], ["length", "Length, if you know it"]];
  const SEEN = { seen: "Seen there", surface: "Surface", status: "Is it there?" };
  const TOLD = { "": "not said", wanted: "wanted", standing: "it stands" };
  const LENGTHS = ["trunk_height", "depth", "length"];
  const NUMBERS = ["hours", "bearing"];
  const TALL = ["building", "tree", "hedge", "wall", "mound", "hoop house", "trellis", "arch"];
  const WIDE = ["tree", "hedge", "wall", "road", "ditch", "culvert", "gate", "kerb", "mound", "hoop house", "path", "swale", "arch"];
  /* Asks what is to be said of a thing; what it gives back writes the answers into the thing, or says what is wrong. */
  function words(thing) {
    const box = el("words");
    box.textContent = "";
    const form = make("fieldset");
    form.append(make("legend", "This " + thing.kind));
    const name = field(form, "Name", "name", thing.name, { maxlength: "200" });
    const tall = TALL.includes(thing.kind) ? field(form, "Height, such as " + (imperial ? "18 ft" : "5.5 m"), "height", thing.height) : null;
    const wide = WIDE.includes(thing.kind) ? field(form, thing.kind === "tree" ? "Width of the crown" : "Width", "width", thing.width) : null;
    const extra = {}, lengths = [[tall, "height"], [wide, "width"]];
    const withUnit = (input) => (input === null || !input.value.trim() ? "" : /[a-z"']\s*$/i.test(input.value.trim()) ? input.value.trim()
      : input.value.trim() + (imperial ? " ft" : " m"));
    const asked = [...(EXTRA[thing.kind] || []), ...(thing.kind in site.statuses ? STATUS : []),
      ...(thing.kind === "hoop house" && thing.geometry.type === "Point" ? BEARING : [])];
    for (const [code, label] of asked) {
      if (label === null) {
        const holder = make("label", null, { class: "tick" });
        const tick = make("input", null, { type: "checkbox", id: "extra-" + code });
        tick.checked = thing.more[code] === true;
        holder.append(tick, document.createTextNode(code === "evergreen" ? "Keeps its leaves in winter" : "Heights are counted from here"));
        form.append(holder);
        extra[code] = () => (tick.checked ? true : undefined);
      } else if (Array.isArray(label)) {
        const select = choice(form, SEEN[code], "extra-" + code, label.map((word) => [word, TOLD[word] || word]),
          thing.more[code] || (code === "status" ? site.statuses[thing.kind] : ""));
        extra[code] = () => select.value || undefined;
      } else {
        const input = field(form, label, "extra-" + code, thing.more[code] === undefined ? "" : String(thing.more[code]));
        extra[code] = () => (LENGTHS.includes(code) ? withUnit(input) : input.value.trim()) || undefined;
        if (LENGTHS.includes(code)) lengths.push([input, label.toLowerCase()]);
      }
    }
    box.append(form);
    return () => {
      const wrong = (input, text) => { say(text, true); input.focus(); return false; };
      for (const [input, label] of lengths)
        if (input && input.value.trim() && readLength(input.value) === null)
          return wrong(input, "\u201c" + input.value.slice(0, 40) + "\u201d is not a " + label + ": write a number and a unit.");
      const bearing = extra.bearing ? extra.bearing() : "0";
      if (bearing === undefined || !(Number(bearing) >= 0 && Number(bearing) <= 360))
        return wrong(el("extra-bearing"), "A hoop house drawn as a point needs the direction of its ridge, 0 to 360 degrees.");
      const stands = extra.status && extra.status() === "standing";
      if (thing.kind === "mound" && stands && !tall.value.trim()) return wrong(tall, "A mound that stands needs its height.");
      if (stands && extra.built() && !/^\d{4}-\d{2}-\d{2}$/.test(extra.built())) return wrong(el("extra-built"), "Write the day it was built as 2025-04-30.");
      thing.name = name.value.trim();
      if (tall) thing.height = withUnit(tall);
      if (wide) thing.width = withUnit(wide);
      for (const [code, read] of Object.entries(extra)) {
        const value = read();
        if (value === undefined || (code === "built" && !stands)) delete thing.more[code];
        else thing.more[code] = NUMBERS.includes(code) && Number.isFinite(Number(value)) ? Number(value) : value;
      }
      return true;
    };
  }
  function changeWords(index) {
    if (busy()) return;
    const thing = copy(things[index]);
    const read = words(thing);
    el("words").append(button("Keep", () => {
      if (!read()) return;
      remember();
      things[index] = thing;
      el("words").textContent = "";
      redraw();
      say("Kept.");
    }, { class: "main", id: "keep" }));
    el("name").focus();
  }
  function busy() {
    if (draft || editing || placing) say("Keep or leave what you are drawing or placing first.", true);
    return Boolean(draft || editing || placing);
  }

  /* ---- changing a shape --------------------------------------------------------------------------------------------- */
  function change(index) {
    if (busy()) return;
    el("words").textContent = "";
    const thing = things[index];
    if (thing.geometry.type.startsWith("Multi")) { say("This has several pieces and is kept as it was drawn.", true); return; }
    show(thing);
    const layer = thing.geometry.type === "Point" ? L.marker(at(thing.geometry.coordinates), { icon: L.divIcon({ className: "marker-icon" }) }) : layerOf(thing);
    layer.addTo(map);
    const handles = () => layer.pm.enable({ snappable: el("snap").checked, allowSelfIntersection: false, draggable: true });
    handles();
    if (layer.dragging && thing.geometry.type === "Point") layer.dragging.enable();
    editing = { index, layer };
    const tools = el("tools");
    tools.textContent = "";
    tools.append(make("h2", "Changing: " + nameOf(thing)));
    tools.append(make("p", "Drag a corner, or the whole; drag the middle of a side for a new corner; press a corner long to take it out.", { class: "quiet" }));
    tools.append(make("p", "", { id: "measure" }));
    const tell = () => { const shape = readBack(); el("measure").textContent = measured(thing.geometry.type, thing.geometry.type === "Polygon" ? shape.coordinates[0].slice(0, -1) : thing.geometry.type === "Point" ? [shape.coordinates] : shape.coordinates); };
    const readBack = () => {
      if (thing.geometry.type === "Point") return { type: "Point", coordinates: back(layer.getLatLng()) };
      if (thing.geometry.type === "LineString") return { type: "LineString", coordinates: layer.getLatLngs().map(back) };
      return { type: "Polygon", coordinates: layer.getLatLngs().map((ring) => { const places = ring.map(back); return places.concat([places[0].slice()]); }) };
    };
    editing.readBack = readBack;
    layer.on("pm:edit pm:vertexadded pm:vertexremoved pm:markerdragend pm:dragend pm:change", tell);
    const turn = (degrees) => {
      const middle = layer.getBounds().getCenter();
      const [cos, sin] = [Math.cos(degrees * Math.PI / 180), Math.sin(degrees * Math.PI / 180)];
      const turned = (value) => (Array.isArray(value) ? value.map(turned) : L.latLng(
        middle.lat - (value.lng - middle.lng) * sin + (value.lat - middle.lat) * cos,
        middle.lng + (value.lng - middle.lng) * cos + (value.lat - middle.lat) * sin));
      layer.pm.disable();
      layer.setLatLngs(turned(layer.getLatLngs()));
      handles();
      tell();
    };
    tell();
    const row = make("div", null, { class: "row" });
    row.append(button("Keep the shape", () => {
      const shape = readBack();
      if (shape.type === "Polygon" && crossesItself(shape.coordinates[0].slice(0, -1))) { say("The outline crosses itself: move a corner back.", true); return; }
      remember();
      thing.geometry = shape;
      stopEditing(true);
      redraw();
      panel();
      say("Kept.");
    }, { class: "main", id: "keep-shape" }));
    if (thing.geometry.type !== "Point") row.append(button("Turn left", () => turn(-5)), button("Turn right", () => turn(5)));
    row.append(button("Leave", () => stopEditing()));
    tools.append(row);
  }
  function stopEditing(quiet) {
    if (!editing) return;
    editing.layer.pm.disable();
    editing.layer.remove();
    editing = null;
    if (!quiet) { redraw(); panel(); }
  }

  /* ---- the list, opening and saving ----------------------------------------------------------------------------------- */
  function list() {
    const box = el("things");
    box.textContent = "";
    things.forEach((thing, index) => {
      const item = make("li");
      item.append(make("b", nameOf(thing)), document.createTextNode(" " + (thing.name ? thing.kind + ". " : "")));
      const flat = corners(thing.geometry);
      item.append(make("span", thing.geometry.type.startsWith("Multi") ? "several pieces" : measured(thing.geometry.type, flat), { class: "quiet" }));
      const row = make("div", null, { class: "row" });
      row.append(button("Words", () => changeWords(index), { "aria-label": "Change the words of " + nameOf(thing) }),
        button("Shape", () => change(index), { "aria-label": "Change the shape of " + nameOf(thing) }),
        button("Take out", () => { if (editing) { busy(); return; } remember(); things.splice(index, 1); if (!draft) el("words").textContent = ""; redraw(); say("Taken out; \u201cTake back\u201d brings it again."); },
          { "aria-label": "Take out " + nameOf(thing) }));
      item.append(row);
      box.append(item);
    });
    const left = proposed();
    el("proposal").hidden = !left.length;
    el("proposed").textContent = "";
    for (const work of left) {
      const item = make("li", nameOf(work) + " ");
      item.append(button("Take over", () => { remember(); things.push(copy(work)); redraw(); say("Taken over as wanted: \u201cShape\u201d moves, turns or stretches it."); },
        { "aria-label": "Take over " + nameOf(work) }));
      el("proposed").append(item);
    }
    el("count").textContent = things.length ? things.length + " drawn" : "Nothing drawn yet: begin with the parcel, the piece of ground itself.";
  }
  function moved(value, dx, dy) {
    return typeof value[0] === "number" ? [round(value[0] + dx), round(value[1] + dy)] : value.map((inner) => moved(inner, dx, dy));
  }
  function asLayer() {
    const features = things.map((thing) => {
      const properties = { kind: thing.kind };
      for (const word of ["name", "height", "width"]) if (thing[word] !== "" && thing[word] !== undefined) properties[word] = thing[word];
      Object.assign(properties, thing.more);
      return { type: "Feature", properties, geometry: { type: thing.geometry.type, coordinates: moved(thing.geometry.coordinates, site.origin[0], site.origin[1]) } };
    });
    const layer = { type: "FeatureCollection", features };
    layer.crs = { type: "name", properties: { name: site.crs } };
    return layer;
  }
  function fromLayer(layer) {
    if (!layer || layer.type !== "FeatureCollection" || !Array.isArray(layer.features)) throw new Error("it is not a layer that this page saved");
    const name = layer.crs && layer.crs.properties ? layer.crs.properties.name : null;
    if (name !== site.crs && !(name === null && site.crs.startsWith("LOCAL_CS"))) throw new Error("its coordinates are not this site\u2019s; open it with \u2018sitepipe sketch\u2019 instead");
    return layer.features.map((feature) => {
      const { kind, name: called, height, width, ...more } = feature.properties || {};
      if (!Object.hasOwn(site.kinds, kind)) throw new Error("it holds an unknown kind, " + String(kind).slice(0, 40));
      const walk = (value) => { if (!Array.isArray(value) || !value.length) throw new Error("a shape in it is broken");
        if (typeof value[0] === "number") { if (!value.slice(0, 2).every(Number.isFinite)) throw new Error("a shape in it is broken"); } else value.forEach(walk); };
      walk(feature.geometry && feature.geometry.coordinates);
      return { kind, name: String(called || ""), height: String(height === undefined ? "" : height), width: String(width === undefined ? "" : width), more,
        geometry: { type: feature.geometry.type, coordinates: moved(feature.geometry.coordinates, -site.origin[0], -site.origin[1]) } };
    });
  }
  function save() {
    if (busy()) return;
    const text = JSON.stringify(asLayer(), null, 1) + "\n";
    const link = make("a", null, { download: site.file, href: URL.createObjectURL(new Blob([text], { type: "application/geo+json" })) });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    const parcel = things.some((thing) => thing.kind === "parcel");
    say(parcel ? "Saved as " + site.file + ": put it into the site folder, then run." : "Saved, but a parcel is still missing: draw the piece of ground itself.", !parcel);
  }
  el("save").addEventListener("click", save);
  el("undo").addEventListener("click", undo);
  el("closer").addEventListener("click", () => map.zoomIn(1));
  el("wider").addEventListener("click", () => map.zoomOut(1));
  el("open").addEventListener("change", (event) => {
    const file = event.target.files[0];
    if (!file) return;
    if (file.size > 5e6) { say("That file is too large for a hand-drawn layer.", true); return; }
    file.text().then((text) => {
      const opened = fromLayer(JSON.parse(text));
      remember();
      things = opened;
      redraw();
      panel();
      say("Opened: " + things.length + " drawn.");
    }).catch((error) => say("That file cannot be opened: " + error.message + ".", true));
    event.target.value = "";
  });

  /* ---- a picture to draw on: read here, placed by two spots, never saved ------------------------------------------------ */
  /* Where the picture lies: ground = start + (along, up) turned and stretched, with along and up in pixels from its lower left. */
  let photo = null;
  const onGround = ([along, up]) => [photo.x + along * photo.cos - up * photo.sin, photo.y + along * photo.sin + up * photo.cos];
  function onPicture([x, y]) {
    const [dx, dy, square] = [x - photo.x, y - photo.y, photo.cos ** 2 + photo.sin ** 2];
    return [(dx * photo.cos + dy * photo.sin) / square, (dy * photo.cos - dx * photo.sin) / square];
  }
  function showPhoto() {
    const [wide, high] = [photo.image.naturalWidth, photo.image.naturalHeight];
    const ends = [[0, 0], [wide, 0], [wide, high], [0, high]].map(onGround);
    const [xs, ys] = [ends.map((end) => end[0]), ends.map((end) => end[1])];
    const [left, right, low, top] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const fine = 1600 / Math.max(right - left, top - low);
    const canvas = make("canvas", null, { width: Math.ceil((right - left) * fine), height: Math.ceil((top - low) * fine) });
    const pen = canvas.getContext("2d");
    const [x, y] = ends[3];
    pen.setTransform(photo.cos * fine, -photo.sin * fine, photo.sin * fine, photo.cos * fine, (x - left) * fine, (top - y) * fine);
    pen.drawImage(photo.image, 0, 0);
    if (photo.overlay) photo.overlay.remove();
    photo.overlay = L.imageOverlay(canvas.toDataURL(), [[low, left], [top, right]], { pane: "relief", alt: "", className: "photo" }).addTo(map);
  }
  function spot(place) {
    if (placing.length === 2) return;
    placing.push(place);
    L.circleMarker(at(place), { radius: 6, color: colour("--red"), interactive: false, pmIgnore: true }).addTo(drafts);
    if (placing.length === 1) { say("Now a second spot, far from the first."); return; }
    say("Say what the two spots are, or how far apart they are.");
    askSpots();
  }
  function askSpots() {
    const box = el("placing");
    const points = namedPoints();
    const entries = [["", "not drawn"]].concat(points.map((point, k) => [String(k), point.name]));
    const [one, two] = [choice(box, "The first spot is", "spot-a", entries), choice(box, "The second spot is", "spot-b", entries)];
    const apart = field(box, "Or: they are apart, such as " + (imperial ? "24 ft 6 in" : "7.4 m"), "apart");
    const towards = field(box, "Direction from the first to the second in degrees: 0 north, 90 east (as it lies, if empty)", "towards", "", { inputmode: "decimal" });
    box.prepend(button("Place the picture", () => {
      const from = one.value ? points[Number(one.value)].place : placing[0];
      let to = one.value && two.value ? points[Number(two.value)].place : null;
      if (!to) {
        const metres = readLength(apart.value);
        if (metres === null) { say("Choose what both spots are, or write how far apart they are, a number and a unit.", true); return; }
        const lies = Math.atan2(placing[1][0] - placing[0][0], placing[1][1] - placing[0][1]);
        const angle = towards.value.trim() === "" ? lies : Number(towards.value) * Math.PI / 180;
        if (!Number.isFinite(angle)) { say("The direction must be a number of degrees.", true); return; }
        to = [from[0] + metres * Math.sin(angle), from[1] + metres * Math.cos(angle)];
      }
      const [p, q] = placing.map(onPicture);
      if (between(p, q) < 10 || between(from, to) < 0.5) { say("The two spots lie too close together to place a picture by.", true); return; }
      const [u, v, dx, dy] = [q[0] - p[0], q[1] - p[1], to[0] - from[0], to[1] - from[1]];
      const square = u * u + v * v;
      photo.cos = (dx * u + dy * v) / square;
      photo.sin = (dy * u - dx * v) / square;
      photo.x = from[0] - p[0] * photo.cos + p[1] * photo.sin;
      photo.y = from[1] - p[0] * photo.sin - p[1] * photo.cos;
      showPhoto();
      endPlacing();
      say("Placed. The picture is not saved with the drawing.");
    }, { class: "main", id: "place-photo" }));
  }
  function endPlacing() {
    placing = null;
    drafts.clearLayers();
    el("placing").textContent = "";
  }
  el("photo").addEventListener("change", (event) => {
    const file = event.target.files[0];
    if (!file || busy()) { event.target.value = ""; return; }
    const reader = new FileReader();
    const image = new Image();
    const unread = () => say("That file cannot be read as a picture.", true);
    reader.addEventListener("load", () => { image.src = reader.result; });
    reader.addEventListener("error", unread);
    image.addEventListener("error", unread);
    image.addEventListener("load", () => {
      if (busy()) return;
      if (photo && photo.overlay) photo.overlay.remove();
      const [view, middle] = [map.getBounds(), back(map.getCenter())];
      const stretch = 0.9 * Math.min((view.getEast() - view.getWest()) / image.naturalWidth, (view.getNorth() - view.getSouth()) / image.naturalHeight);
      photo = { image, cos: stretch, sin: 0, x: middle[0] - stretch * image.naturalWidth / 2, y: middle[1] - stretch * image.naturalHeight / 2 };
      showPhoto();
      placing = [];
      el("placing").append(button("Leave the picture", () => { photo.overlay.remove(); photo = null; endPlacing(); say("Left."); }));
      say("Tap a spot in the picture that you know: a drawn corner, or the end of a length that you measured.");
    });
    reader.readAsDataURL(file);
    event.target.value = "";
  });

  /* ---- scale, and what was kept on this device ------------------------------------------------------------------------ */
  function scale() {
    const perPixel = between(back(map.containerPointToLatLng([0, 100])), back(map.containerPointToLatLng([100, 100]))) / 100;
    const steps = imperial ? [5, 10, 20, 50, 100, 200, 500, 1000].map((feet) => [feet * FOOT, feet + "\u00a0ft"])
      : [1, 2, 5, 10, 20, 50, 100, 200, 500].map((metres) => [metres, metres + "\u00a0m"]);
    const [metres, text] = steps.filter(([length]) => length / perPixel <= 120).pop() || steps[0];
    el("bar").style.width = Math.round(metres / perPixel) + "px";
    el("bar-text").textContent = text;
    document.body.classList.toggle("wide", perPixel > 0.14);
  }
  const place = "where " + site.key;
  try {
    const before = JSON.parse(localStorage.getItem(place) || "null");
    if (before && [before.x, before.y, before.zoom].every(Number.isFinite)) map.setView([before.y, before.x], before.zoom, { animate: false });
  } catch (error) { /* no store on this device */ }
  map.on("moveend", () => {
    const middle = map.getCenter();
    try { localStorage.setItem(place, JSON.stringify({ x: middle.lng, y: middle.lat, zoom: map.getZoom() })); } catch (error) { /* as above */ }
  });
  map.on("zoomend moveend resize", scale);
  try {
    const kept = JSON.parse(localStorage.getItem(key) || "null");
    if (Array.isArray(kept) && kept.length && JSON.stringify(kept) !== JSON.stringify(things)) {
      const offer = el("kept");
      holding = true;
      const answer = (choose) => { holding = false; offer.textContent = ""; choose(); redraw(); panel(); };
      offer.append(make("p", "This device keeps a drawing of this site (" + kept.length + " drawn)."));
      offer.append(button("Go on with it", () => answer(() => { remember(); things = kept; say("Went on."); }), { id: "go-on" }));
      offer.append(button("Leave it", () => answer(() => say("Left."))));
    }
  } catch (error) { /* no store on this device */ }
  redraw();
  panel();
  scale();
  say(things.length ? "Go on drawing, or change what is there." : "Begin with the parcel: choose \u201cAs an area\u201d, then tap its corners.");
})();
