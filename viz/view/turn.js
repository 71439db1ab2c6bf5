'use strict';
/* Turning: what a person does with pointer, fingers and keys, and what the page says back. */

const VIEW_ANGLE = 0.42, TURN = Math.PI / 24, REST = 140;
const SEEN_THROUGH = 0.14;
const START = { azimuth: Math.atan2(-1.0, -0.62), height: 0.55 };

const sub = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a) => { const size = Math.hypot(...a); return a.map((v) => v / size); };

/* Columns of the matrix that takes a place [m] to the screen, and the directions of the eye. */
function lookFrom(state, width, height, reach) {
  const c = Math.cos(state.height), back = [c * Math.cos(state.azimuth), c * Math.sin(state.azimuth), Math.sin(state.height)];
  const right = unit([-back[1], back[0], 0]), up = cross(back, right);
  const eye = state.focus.map((v, k) => v + state.distance * back[k]);
  const f = 1 / Math.tan(VIEW_ANGLE / 2), near = Math.max(state.distance - reach, 0.02 * state.distance);
  const far = state.distance + reach, a = (far + near) / (near - far), b = 2 * far * near / (near - far);
  const rows = [right.map((v) => v * f * height / width), up.map((v) => v * f), back.map((v) => v * a), back.map((v) => -v)];
  const shift = rows.map((row) => -dot(row, eye));
  shift[2] += b;
  const matrix = new Float32Array(16);
  for (let k = 0; k < 4; k++) {
    for (let n = 0; n < 3; n++) matrix[4 * n + k] = rows[k][n];
    matrix[12 + k] = shift[k];
  }
  return { matrix, eye, back, right, up, f, aspect: width / height };
}

function onScreen(look, place, width, height) {
  const m = look.matrix, [x, y, , w] = [0, 1, 2, 3].map((k) => m[k] * place[0] + m[4 + k] * place[1] + m[8 + k] * place[2] + m[12 + k]);
  return w > 0 ? [(0.5 + 0.5 * x / w) * width, (0.5 - 0.5 * y / w) * height] : null;
}

/* Where a ray first meets a box, as a share of its direction; Infinity where it does not. */
function meets(box, from, way) {
  let near = 0, far = Infinity;
  for (let k = 0; k < 3; k++) {
    if (Math.abs(way[k]) < 1e-12) { if (from[k] < box[2 * k] || from[k] > box[2 * k + 1]) return Infinity; continue; }
    let a = (box[2 * k] - from[k]) / way[k], b = (box[2 * k + 1] - from[k]) / way[k];
    if (a > b) [a, b] = [b, a];
    near = Math.max(near, a); far = Math.min(far, b);
  }
  return near <= far ? near : Infinity;
}

function cellIn(edges, at) {
  let low = 0, high = edges.length - 2;
  while (low < high) { const mid = (low + high + 1) >> 1; if (edges[mid] <= at) low = mid; else high = mid - 1; }
  return low;
}

async function begin() {
  const root = document.documentElement, $ = (name) => document.getElementById(name);
  const raw = JSON.parse($('scene').textContent), canvas = $('picture'), overlay = $('leaders'), tags = $('tags');
  const gl = canvas.getContext('webgl2', { antialias: true, alpha: false, powerPreference: 'low-power' });
  if (!gl) {
    $('stage').classList.add('without');
    $('say').textContent = 'This browser does not draw in three dimensions (WebGL 2); the numbers stand in the table below.';
    root.dataset.ready = 'without';
    return;
  }
  const data = await unpackedScene(raw);
  if (data.volume && Math.max(data.volume.x.length, data.volume.y.length, data.volume.z.length) >
      gl.getParameter(gl.MAX_3D_TEXTURE_SIZE)) data.volume = null;
  let drawer = makeDrawer(gl, data), look = null, asked = 0, rested = 0, boxes = [];
  const still = window.matchMedia('(prefers-reduced-motion: reduce)').matches;
  const spans = [1, 3, 5].map((k) => raw.bounds[k] - raw.bounds[k - 1]), reach = Math.hypot(...spans) * 1.2;
  const state = { open: 1, flowing: false, reading: null, since: 0, now: 0, ...START };
  const ranks = new Map();  /* paint order, a rank a label */
  data.solids.forEach((solid) => { if (!ranks.has(solid.label)) ranks.set(solid.label, ranks.size); });
  const on = (name) => { const box = $('layer-' + name); return !!box && box.checked && !box.disabled; };

  function opened(solid) {
    const begin = raw.bounds[2] + state.open * solid.peel * Math.min(raw.opened, spans[1]);
    const box = solid.box.slice();
    box[2] = Math.max(box[2], begin);
    return box[3] - box[2] > 1e-9 || (state.open * solid.peel === 0) ? box : null;
  }

  /* Which parts are there, and in which colours. */
  function rebuild() {
    const full = { values: [], index: [] }, glass = { values: [], index: [] }, edges = { values: [], index: [] };
    boxes = [];
    data.solids.forEach((solid) => {
      const box = opened(solid), hot = solid.kind === 'plate' || solid.kind === 'sheet';
      const warm = hot && on('plates');
      if (!box || !(warm || on('solids') || (solid.floor && on('floor')))) return;
      let mode = warm ? HOT : on('warm') ? WARM : MATERIAL, through = !warm && on('through');
      if (solid.floor && on('floor')) { mode = FLOOR; through = false; }
      if (mode === FLOOR && !on('solids')) box[4] = box[5] - Math.min(1e-3, box[5] - box[4]);
      if (!data.volume && mode !== FLOOR) mode = MATERIAL;
      addBox(through ? glass : full, box, solid.colour, mode, ranks.get(solid.label));
      addEdges(edges, box);
      boxes.push({ box, solid, through, mode });
    });
    const grey = [0.62, 0.65, 0.67];
    data.tubes.forEach((tube) => {
      if (!on('water') && !on('solids')) return;
      addTube(full, tube, on('water') ? WATER : MATERIAL, grey, ranks.size);
      const box = [0, 1, 2].flatMap((k) => [Math.min(tube.start[k], tube.end[k]), Math.max(tube.start[k], tube.end[k])]
        .map((v, end) => v + (Math.abs(tube.end[k] - tube.start[k]) < 1e-9 ? (end ? 1 : -1) * tube.radius : 0)));
      boxes.push({ box, solid: { label: tube.label, kind: 'tube' }, tube, through: false });
    });
    if (!data.solids.length) addEdges(edges, raw.bounds);
    drawer.full.fill(full.values, full.index);
    drawer.glass.fill(glass.values, glass.index);
    drawer.edges.fill(edges.values, edges.index);
    redraw();
  }

  function resize() {
    const ratio = Math.min(window.devicePixelRatio || 1, 2), box = canvas.getBoundingClientRect();
    const width = Math.max(1, Math.round(box.width * ratio)), height = Math.max(1, Math.round(box.height * ratio));
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  }

  function redraw() { if (!asked) asked = requestAnimationFrame(draw); }

  function colourOf(name) {
    const parts = getComputedStyle(root).getPropertyValue(name).trim().replace('#', '');
    return [0, 2, 4].map((k) => parseInt(parts.slice(k, k + 2), 16) / 255);
  }

  function draw(time) {
    asked = 0;
    if (gl.isContextLost()) return;
    resize();
    const paper = colourOf('--stage'), ink = colourOf('--edges');
    look = lookFrom(state, canvas.width, canvas.height, reach + Math.hypot(...sub(state.focus, middle())));
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(...paper, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST); gl.disable(gl.BLEND); gl.depthMask(true);
    drawSolids(drawer.full, 1);
    gl.useProgram(drawer.line.made);
    gl.uniformMatrix4fv(drawer.line.at.view, false, look.matrix);
    gl.uniform4f(drawer.line.at.ink, ...ink, 1);
    drawer.edges.draw(gl.LINES);
    if (on('air')) drawStreams(paper);
    gl.enable(gl.BLEND); gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA); gl.depthMask(false);
    drawSolids(drawer.glass, SEEN_THROUGH);
    gl.depthMask(true);
    drawLabels();
    root.dataset.azimuth = (state.azimuth * 180 / Math.PI).toFixed(1);
    root.dataset.height = (state.height * 180 / Math.PI).toFixed(1);
    root.dataset.ready = 'yes';
    if (state.flowing && on('air')) {
      state.now += Math.min(0.1, state.since ? (time - state.since) / 1000 : 0);
      state.since = time;
      redraw();
    } else state.since = 0;
  }

  function drawSolids(own, alpha) {
    const { made, at } = drawer.solid, limits = (name) => raw.scales[name] || [0, 1];
    gl.useProgram(made);
    gl.uniformMatrix4fv(at.view, false, look.matrix);
    ['volume', 'floorMap', 'lines', 'ramps'].forEach((name, k) => at[name] && gl.uniform1i(at[name], k));
    gl.uniform3i(at.cells, ...drawer.sizes); gl.uniform2i(at.floorCells, ...drawer.flat);
    gl.uniform2f(at.hot, ...limits('hot')); gl.uniform2f(at.warm, ...limits('solids'));
    gl.uniform2f(at.water, ...limits('water'));
    gl.uniform2f(at.seen, ...(raw.floor ? [raw.floor.low, raw.floor.high] : [0, 1]));
    gl.uniform1f(at.alpha, alpha); gl.uniform1f(at.skin, 1e-5 * Math.min(...spans.filter((v) => v > 0)));
    own.draw(gl.TRIANGLES);
  }

  function drawStreams(paper) {
    const { made, at } = drawer.stream;
    gl.useProgram(made);
    gl.uniformMatrix4fv(at.view, false, look.matrix);
    gl.uniform1i(at.ramps, 3);
    gl.uniform3f(at.eye, ...look.eye);
    gl.uniform1f(at.radius, 0.0007 * raw.airSpan + 0.0004 * state.distance);
    gl.uniform2f(at.hot, ...(raw.scales.hot || [0, 1]));
    gl.uniform1f(at.now, state.now); gl.uniform1f(at.period, raw.air.period);
    gl.uniform1f(at.flowing, state.flowing ? 1 : 0); gl.uniform1f(at.dark, paper[0] < 0.5 ? 1 : 0);
    drawer.streams.draw(gl.TRIANGLES);
  }

  const middle = () => [0, 2, 4].map((k) => (raw.bounds[k] + raw.bounds[k + 1]) / 2);

  /* Far enough to see a box whole. */
  function frame(box) {
    state.focus = [0, 2, 4].map((k) => (box[k] + box[k + 1]) / 2);
    state.distance = reach;
    resize();
    let most = 0;
    const flat = lookFrom(state, canvas.width, canvas.height, reach);
    for (let k = 0; k < 8; k++) {
      const corner = [box[k & 1], box[2 + ((k >> 1) & 1)], box[4 + ((k >> 2) & 1)]], from = sub(corner, state.focus);
      const depth = dot(from, flat.back);
      most = Math.max(most, depth + flat.f * Math.abs(dot(from, flat.up)) / 0.9,
        depth + flat.f * Math.abs(dot(from, flat.right)) / flat.aspect / (on('labels') ? 0.8 : 0.94));
    }
    state.distance = most;
  }
  function start() {
    Object.assign(state, START);
    const box = raw.bounds.slice();
    box[3] = Math.min(box[3], box[2] + raw.opened);
    frame(box);
    redraw();
  }
  function whole() { frame(raw.bounds); redraw(); }
  function turn(by, up) {
    state.azimuth += by;
    state.height = Math.max(-1.5, Math.min(1.5, state.height + up));
    redraw();
  }
  function move(by, up) {
    const width = state.distance * Math.tan(VIEW_ANGLE / 2) * 2;
    state.focus = state.focus.map((v, k) => v - width * (by * look.right[k] - up * look.up[k]));
    redraw();
  }
  function zoom(by) {
    state.distance = Math.max(0.03 * reach, Math.min(6 * reach, state.distance * by));
    redraw();
  }

  /* Names stand at the sides, with a line to a spot of the part that is seen. */
  function drawLabels() {
    const width = canvas.clientWidth, height = canvas.clientHeight;
    if (!on('labels')) { tags.textContent = ''; overlay.textContent = ''; return; }
    clearTimeout(rested);
    tags.style.opacity = overlay.style.opacity = state.flowing && tags.childElementCount ? 1 : 0.35;
    rested = setTimeout(() => placeLabels(width, height), state.flowing && tags.childElementCount ? 2000 : REST);
  }
  function placeLabels(width, height) {
    tags.textContent = ''; overlay.textContent = '';
    tags.style.opacity = overlay.style.opacity = 1;
    const found = [];
    new Set(boxes.map((one) => one.solid.name || one.solid.label)).forEach((label) => {
      const spot = visibleSpot(boxes.filter((one) => (one.solid.name || one.solid.label) === label), width, height);
      if (spot) found.push({ label, spot });
    });
    [0, 1].forEach((side) => {
      const own = found.filter((one) => (one.spot[0] > width / 2) === !!side).sort((a, b) => a.spot[1] - b.spot[1]);
      const gap = Math.min(24, (height - 24) / Math.max(own.length, 1));
      let level = 8 - gap;
      own.forEach((one) => { level = one.level = Math.max(one.spot[1] - 10, level + gap); });
      level = height - 12;
      own.slice().reverse().forEach((one) => { level = one.level = Math.min(one.level, level - gap); });
      own.forEach((one) => tag(one, side, width));
    });
  }
  function tag(one, side, width) {
    const text = document.createElement('span');
    text.textContent = one.label;
    text.style.top = one.level + 'px';
    text.style[side ? 'right' : 'left'] = '6px';
    tags.appendChild(text);
    const edge = side ? width - text.offsetWidth - 10 : text.offsetWidth + 10, middle = one.level + text.offsetHeight / 2;
    [['halo', 3], ['leader', 1]].forEach(([name]) => {
      const line = document.createElementNS('http://www.w3.org/2000/svg', 'line');
      Object.entries({ x1: edge, y1: middle, x2: one.spot[0], y2: one.spot[1], class: name })
        .forEach(([key, value]) => line.setAttribute(key, value));
      overlay.appendChild(line);
    });
    const dot = document.createElementNS('http://www.w3.org/2000/svg', 'circle');
    Object.entries({ cx: one.spot[0], cy: one.spot[1], r: 2.6, class: 'spot' })
      .forEach(([key, value]) => dot.setAttribute(key, value));
    overlay.appendChild(dot);
  }
  function visibleSpot(own, width, height) {
    const spots = [], sorted = own.slice().sort((a, b) => far(a.box) - far(b.box)).slice(0, 6);
    sorted.forEach((one) => {
      for (let axis = 0; axis < 3; axis++) {
        const end = look.eye[axis] > (one.box[2 * axis] + one.box[2 * axis + 1]) / 2 ? 1 : 0;
        for (let k = 0; k < 49; k++) {
          const place = [0, 0, 0], shares = [(k % 7 + 0.5) / 7, (Math.floor(k / 7) + 0.5) / 7];
          let next = 0;
          for (let n = 0; n < 3; n++) {
            const [low, high] = [one.box[2 * n], one.box[2 * n + 1]];
            place[n] = n === axis ? one.box[2 * n + end] : low + shares[next++] * (high - low);
          }
          const at = onScreen(look, place, width, height);
          if (!at || at[0] < 4 || at[1] < 4 || at[0] > width - 4 || at[1] > height - 4) continue;
          const hit = firstHit(place);
          if (hit && hit.solid.label === one.solid.label) spots.push(at);
        }
      }
    });
    if (!spots.length) return null;
    const mean = [0, 1].map((k) => spots.reduce((sum, at) => sum + at[k], 0) / spots.length);
    const away = (at) => Math.hypot(at[0] - mean[0], at[1] - mean[1]);
    return spots.reduce((best, at) => (away(at) < away(best) ? at : best));
  }
  const far = (box) => Math.hypot(...look.eye.map((v, k) => v - Math.max(box[2 * k], Math.min(v, box[2 * k + 1]))));
  function firstHit(place) {
    const way = sub(place, look.eye);
    let best = null, least = Infinity;
    boxes.forEach((one) => {
      if (one.through) return;
      const share = meets(one.box, look.eye, way);
      if (share <= least + 1e-9) { least = share; best = share < Infinity ? { ...one, share } : best; }
    });
    return best;
  }

  /* What lies under the pointer, in words. */
  function read(x, y) {
    const half = Math.tan(VIEW_ANGLE / 2), h = (2 * x / canvas.clientWidth - 1) * half * look.aspect;
    const v = (1 - 2 * y / canvas.clientHeight) * half;
    const way = look.back.map((b, k) => -b + h * look.right[k] + v * look.up[k]);
    const hit = firstHit(look.eye.map((e, k) => e + way[k]));
    if (!hit) { tellReading(''); return; }
    const place = look.eye.map((e, k) => e + hit.share * way[k]);
    tellReading(whatIs(hit, place) + ' · ' + long(place[0] - raw.bounds[0]) + ' across, ' +
      long(place[1] - raw.bounds[2]) + ' along');
  }
  function whatIs(hit, place) {
    const name = hit.solid.name || hit.solid.label;
    if (hit.tube) {
      const axis = [0, 1, 2].find((k) => Math.abs(hit.tube.end[k] - hit.tube.start[k]) > 1e-9);
      const kelvin = between(hit.tube.places, hit.tube.kelvin, place[axis]);
      return name + (kelvin === kelvin ? ': water ' + warm(kelvin) : '');
    }
    if (hit.solid.floor && data.floor && place[2] > hit.box[5] - 1e-6) {
      const k = cellIn(data.floor.x, place[0]) + (data.floor.x.length - 1) * cellIn(data.floor.y, place[1]);
      if (data.floor.surface[k] === data.floor.surface[k]) {
        return name + ': floor ' + warm(data.floor.surface[k]) + ', read as ' + warm(data.floor.apparent[k]);
      }
    }
    if (!data.volume) return name;
    const inner = place.map((v, k) => Math.max(hit.box[2 * k] + 1e-6, Math.min(hit.box[2 * k + 1] - 1e-6, v)));
    const cells = [data.volume.x, data.volume.y, data.volume.z].map((edges, k) => cellIn(edges, inner[k]));
    const kelvin = data.volume.kelvin[cells[0] + drawer.sizes[0] * (cells[1] + drawer.sizes[1] * cells[2])];
    return name + (kelvin === kelvin ? ': ' + warm(kelvin) : '');
  }
  function tellReading(text) { $('reading').textContent = text || 'Point at a part to read its temperature.'; }
  const ip = () => document.body.classList.contains('inches');
  const warm = (kelvin) => (raw.dimensionless ? kelvin.toFixed(3) + ' ΔT'
    : ip() ? ((kelvin - 273.15) * 1.8 + 32).toFixed(1) + ' °F' : (kelvin - 273.15).toFixed(1) + ' °C');
  const long = (metres) => (raw.dimensionless ? metres.toFixed(2) + ' L'
    : ip() ? (metres / 0.0254).toFixed(1) + ' in' : (metres * 1000).toFixed(0) + ' mm');

  function toggle(name) {
    const box = $('layer-' + name);
    if (!box || box.disabled) return false;
    box.checked = !box.checked;
    changed(box);
    return true;
  }
  function changed(box) {
    $('say').textContent = box.closest('label').dataset.name + (box.checked ? ' on' : ' off');
    rebuild();
  }
  function setUnits(name) {
    if (!$('units-' + name)) return;
    document.body.classList.toggle('inches', name === 'ip');
    $('units-' + name).checked = true;
    tellReading('');
  }
  function flow() {
    if (!on('air') && !toggle('air')) return;
    state.flowing = !state.flowing;
    const button = $('flow');
    button.setAttribute('aria-pressed', state.flowing);
    button.querySelector('b').textContent = state.flowing ? 'Hold the air' : 'Let the air flow';
    redraw();
  }
  function setOpen(share) {
    state.open = Math.max(0, Math.min(1, share));
    $('open').value = Math.round(100 * state.open);
    rebuild();
  }
  const keys = {
    ArrowLeft: (e) => (e.shiftKey ? move(-0.06, 0) : turn(-TURN, 0)), ArrowRight: (e) => (e.shiftKey ? move(0.06, 0) : turn(TURN, 0)),
    ArrowUp: (e) => (e.shiftKey ? move(0, -0.06) : turn(0, TURN)), ArrowDown: (e) => (e.shiftKey ? move(0, 0.06) : turn(0, -TURN)),
    '+': () => zoom(0.88), '=': () => zoom(0.88), '-': () => zoom(1 / 0.88), Home: start, '0': start, v: whole, g: flow,
    '[': () => setOpen(state.open - 0.1), ']': () => setOpen(state.open + 0.1),
    u: () => setUnits(ip() ? 'si' : 'ip'), r: () => readMiddle(),
  };
  document.querySelectorAll('[data-key]').forEach((label) => {
    keys[label.dataset.key] = () => toggle(label.dataset.layer);
  });
  function readMiddle() { read(canvas.clientWidth / 2, canvas.clientHeight / 2); $('stage').classList.add('aiming'); }
  document.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const own = Object.prototype.hasOwnProperty.call(keys, name) ? keys[name] : null;
    const elsewhere = event.target !== canvas && event.target !== document.body;
    if (!own || (elsewhere && (name.startsWith('Arrow') || name === 'Home'))) return;
    event.preventDefault();
    own(event);
  });

  const fingers = new Map();
  canvas.addEventListener('pointerdown', (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    $('stage').classList.remove('aiming');
  });
  canvas.addEventListener('pointermove', (event) => {
    const before = fingers.get(event.pointerId), home = canvas.getBoundingClientRect();
    if (!before) { if (look) read(event.clientX - home.left, event.clientY - home.top); return; }
    const by = event.clientX - before[0], up = event.clientY - before[1];
    if (fingers.size === 1) {
      if (event.shiftKey || event.buttons & 6) move(by / home.height, up / home.height);
      else turn(-0.008 * by, 0.008 * up);
    } else {
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1], size = (at) => Math.hypot(at[0] - other[0], at[1] - other[1]);
      zoom(size(before) / Math.max(size([event.clientX, event.clientY]), 1));
      move(by / home.height / 2, up / home.height / 2);
    }
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  ['pointerup', 'pointercancel'].forEach((name) => canvas.addEventListener(name, (event) => {
    fingers.delete(event.pointerId);
    const home = canvas.getBoundingClientRect();
    if (event.pointerType === 'touch' && look) read(event.clientX - home.left, event.clientY - home.top);
  }));
  canvas.addEventListener('contextmenu', (event) => event.preventDefault());
  canvas.addEventListener('wheel', (event) => {
    if (document.activeElement !== canvas) return;
    event.preventDefault();
    zoom(Math.exp(Math.max(-0.4, Math.min(0.4, 0.0015 * event.deltaY))));
  }, { passive: false });
  canvas.addEventListener('webglcontextlost', (event) => event.preventDefault());
  canvas.addEventListener('webglcontextrestored', () => { drawer = makeDrawer(gl, data); rebuild(); });
  document.querySelectorAll('input[id^=layer-]').forEach((box) => box.addEventListener('change', () => changed(box)));
  document.querySelectorAll('input[name=units]').forEach((box) => box.addEventListener('change', () => setUnits(box.value)));
  document.querySelectorAll('button[data-do]').forEach((button) => button.addEventListener('click', () => {
    keys[button.dataset.do]({ shiftKey: false });
  }));
  $('open').addEventListener('input', (event) => setOpen(event.target.value / 100));
  new ResizeObserver(redraw).observe(canvas);
  window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', redraw);
  if (canvas.clientWidth < 560 && $('layer-labels')) $('layer-labels').checked = false;
  $('motion').hidden = !still;
  tellReading('');
  start();
  rebuild();
  if (window.top === window) canvas.focus({ preventScroll: true });
}

async function unpackedScene(raw) {
  const data = { solids: raw.solids, tubes: raw.tubes, volume: null, floor: null, air: { counts: raw.air.counts } };
  data.tubes.forEach((tube) => { tube.kelvin = tube.kelvin.map((v) => (v === null ? NaN : v)); });
  if (raw.volume) {
    data.volume = { x: raw.volume.x, y: raw.volume.y, z: raw.volume.z, kelvin: await unpackedField(raw.volume) };
  }
  if (raw.floor) {
    data.floor = { x: raw.floor.x, y: raw.floor.y, surface: await unpackedField(raw.floor.surface),
      apparent: await unpackedField(raw.floor.apparent) };
  }
  if (raw.air.counts.length) {
    data.air.points = await unpacked(raw.air.points, Float32Array);
    data.air.kelvin = await unpackedField(raw.air.kelvin);
    data.air.seconds = await unpacked(raw.air.seconds, Float32Array);
  }
  data.ramps = await unpacked(raw.ramps, Uint8Array);
  return data;
}

begin().catch((error) => {
  document.getElementById('say').textContent = 'The scene cannot be drawn here (' + error.message + '); the numbers stand in the table below.';
  document.getElementById('stage').classList.add('without');
  document.documentElement.dataset.ready = 'failed';
});
