'use strict';
/* Drawing: arrays of the page become buffers, and buffers a picture. No library, no network; WebGL 2 alone. */

const NEAR_ORDER = 1e-5;  /* of parts in one plane the one painted later lies nearer */
const MATERIAL = 0, HOT = 1, FLOOR = 2, WARM = 3, WATER = 4;

async function unpacked(text, kind) {
  const raw = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([raw]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new kind(await new Response(stream).arrayBuffer());
}

/* Whole numbers 0 ... 65534 between two limits; 65535 is no number. */
async function unpackedField(field) {
  const codes = await unpacked(field.codes, Uint16Array), values = new Float32Array(codes.length);
  const step = (field.high - field.low) / 65534;
  for (let k = 0; k < codes.length; k++) values[k] = codes[k] === 65535 ? NaN : field.low + step * codes[k];
  return values;
}

const SOLID_VERTEX = `#version 300 es
in vec3 place; in vec3 normal; in vec3 colour; in float mode; in float order;
uniform mat4 view; out vec3 p; out vec3 n; out vec3 c; flat out int m;
void main() {
  p = place; n = normal; c = colour; m = int(mode + 0.5);
  gl_Position = view * vec4(place, 1.0);
  gl_Position.z -= order * ${NEAR_ORDER} * gl_Position.w;
}`;

const SOLID_FRAGMENT = `#version 300 es
precision highp float; precision highp int; precision highp sampler3D;
in vec3 p; in vec3 n; in vec3 c; flat in int m; out vec4 shown;
uniform sampler3D volume; uniform sampler2D floorMap; uniform sampler2D lines; uniform sampler2D ramps;
uniform ivec3 cells; uniform ivec2 floorCells; uniform vec2 hot, warm, seen, water; uniform float alpha, skin;
int cellOf(int row, int count, float at) {
  int low = 0, high = count - 1;
  for (int k = 0; k < 13; k++) {
    if (low >= high) break;
    int mid = (low + high + 1) / 2;
    if (texelFetch(lines, ivec2(mid, row), 0).r <= at) low = mid; else high = mid - 1;
  }
  return low;
}
vec3 ramp(float value, vec2 limits, int row) {
  float share = clamp((value - limits.x) / max(limits.y - limits.x, 1e-9), 0.0, 1.0);
  return texture(ramps, vec2(share * 0.99609375 + 0.001953125, (float(row) + 0.5) / 2.0)).rgb;
}
float centre(int row, int k) {
  return 0.5 * (texelFetch(lines, ivec2(k, row), 0).r + texelFetch(lines, ivec2(k + 1, row), 0).r);
}
float floorAt(vec2 q) {
  int i = cellOf(3, floorCells.x, q.x), j = cellOf(4, floorCells.y, q.y);
  int a = q.x < centre(3, i) ? max(i - 1, 0) : i, b = q.y < centre(4, j) ? max(j - 1, 0) : j;
  int a1 = min(a + 1, floorCells.x - 1), b1 = min(b + 1, floorCells.y - 1);
  float u = a1 > a ? clamp((q.x - centre(3, a)) / (centre(3, a1) - centre(3, a)), 0.0, 1.0) : 0.0;
  float v = b1 > b ? clamp((q.y - centre(4, b)) / (centre(4, b1) - centre(4, b)), 0.0, 1.0) : 0.0;
  float here = texelFetch(floorMap, ivec2(i, j), 0).r;
  float low = mix(texelFetch(floorMap, ivec2(a, b), 0).r, texelFetch(floorMap, ivec2(a1, b), 0).r, u);
  float high = mix(texelFetch(floorMap, ivec2(a, b1), 0).r, texelFetch(floorMap, ivec2(a1, b1), 0).r, u);
  float mean = mix(low, high, v);
  return isnan(mean) ? here : mean;
}
float cellAt(vec3 q, bool even) {
  int i = cellOf(0, cells.x, q.x), j = cellOf(1, cells.y, q.y), k = cellOf(2, cells.z, q.z);
  float here = texelFetch(volume, ivec3(i, j, k), 0).r;
  if (!even) return here;
  int a = q.x < centre(0, i) ? max(i - 1, 0) : min(i + 1, cells.x - 1);
  float beside = texelFetch(volume, ivec3(a, j, k), 0).r;
  if (a == i || isnan(beside) || isnan(here)) return here;
  return mix(here, beside, clamp((q.x - centre(0, i)) / (centre(0, a) - centre(0, i)), 0.0, 1.0));
}
void main() {
  float light = 0.5 + 0.5 * dot(normalize(n), normalize(vec3(-0.35, -0.55, 0.75)));
  vec3 base = c; float depth = 0.42;
  if (m == ${FLOOR} && n.z > 0.5) {
    float found = floorAt(p.xy);
    if (!isnan(found)) { base = ramp(found, seen, 0); depth = 0.0; }
  } else if (m == ${HOT} || m == ${WARM}) {
    float found = cellAt(p - n * skin, m == ${HOT});
    if (!isnan(found)) { base = ramp(found, m == ${HOT} ? hot : warm, 0); depth = 0.12; }
  } else if (m == ${WATER} && c.r > 0.0) { base = ramp(c.r, water, 1); depth = 0.3; }
  shown = vec4(base * (1.0 - depth + depth * light), alpha);
}`;

const LINE_VERTEX = `#version 300 es
in vec3 place; uniform mat4 view;
void main() { gl_Position = view * vec4(place, 1.0); gl_Position.z -= 2e-4 * gl_Position.w; }`;
const LINE_FRAGMENT = `#version 300 es
precision highp float; uniform vec4 ink; out vec4 shown; void main() { shown = ink; }`;

const STREAM_VERTEX = `#version 300 es
in vec3 place; in vec3 along; in vec3 side; /* side: left or right, temperature, travel time */
uniform mat4 view; uniform vec3 eye; uniform float radius; out vec3 s;
void main() {
  vec3 across = cross(along, normalize(eye - place));
  float size = length(across);
  s = side;
  gl_Position = view * vec4(place + (size > 1e-6 ? across / size : vec3(0.0)) * radius * side.x, 1.0);
}`;
const STREAM_FRAGMENT = `#version 300 es
precision highp float; in vec3 s; out vec4 shown;
uniform sampler2D ramps; uniform vec2 hot; uniform float now, period, flowing, dark;
void main() {
  float share = clamp((s.y - hot.x) / max(hot.y - hot.x, 1e-9), 0.0, 1.0);
  vec3 base = texture(ramps, vec2(share * 0.99609375 + 0.001953125, 0.25)).rgb;
  float round = sqrt(max(0.0, 1.0 - s.x * s.x));
  float pulse = flowing > 0.5 ? smoothstep(0.72, 0.98, fract((now - s.z) / period)) : 0.0;
  shown = vec4(mix(base * (0.55 + 0.45 * round), vec3(1.0 - 0.85 * (1.0 - dark)), 0.85 * pulse), 1.0);
}`;

function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]].forEach(([kind, text]) => {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text); gl.compileShader(shader); gl.attachShader(made, shader);
  });
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost()) {
    throw new Error(gl.getProgramInfoLog(made) || 'shaders do not link');
  }
  const at = {};
  const count = gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS) || 0;
  for (let k = 0; k < count; k++) {
    const name = gl.getActiveUniform(made, k).name;
    at[name] = gl.getUniformLocation(made, name);
  }
  return { made, at };
}

/* A buffer of rows of floats, with the names and lengths of what each row holds. */
function rows(gl, shader, layout) {
  const own = { array: gl.createVertexArray(), buffer: gl.createBuffer(), index: gl.createBuffer(), count: 0 };
  const width = layout.reduce((sum, part) => sum + part[1], 0);
  gl.bindVertexArray(own.array);
  gl.bindBuffer(gl.ARRAY_BUFFER, own.buffer);
  let offset = 0;
  layout.forEach(([name, length]) => {
    const place = gl.getAttribLocation(shader.made, name);
    if (place >= 0) {
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, length, gl.FLOAT, false, 4 * width, 4 * offset);
    }
    offset += length;
  });
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, own.index);
  gl.bindVertexArray(null);
  own.fill = (values, index) => {
    gl.bindVertexArray(own.array);
    gl.bindBuffer(gl.ARRAY_BUFFER, own.buffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(values), gl.DYNAMIC_DRAW);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, own.index);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, new Uint32Array(index), gl.DYNAMIC_DRAW);
    gl.bindVertexArray(null);
    own.count = index.length;
  };
  own.draw = (kind) => {
    if (!own.count) return;
    gl.bindVertexArray(own.array);
    gl.drawElements(kind, own.count, gl.UNSIGNED_INT, 0);
    gl.bindVertexArray(null);
  };
  return own;
}

function texture(gl, unit, kind, fill) {
  gl.activeTexture(gl.TEXTURE0 + unit);
  gl.bindTexture(kind, gl.createTexture());
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
  [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER].forEach((name) => gl.texParameteri(kind, name, gl.NEAREST));
  [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T].forEach((name) => gl.texParameteri(kind, name, gl.CLAMP_TO_EDGE));
  fill();
}

const FACES = [  /* of a box: corners as ends of x, y, z, anticlockwise seen from outside, and the normal */
  [[0, 0, 0], [0, 0, 1], [0, 1, 1], [0, 1, 0], [-1, 0, 0]], [[1, 0, 0], [1, 1, 0], [1, 1, 1], [1, 0, 1], [1, 0, 0]],
  [[0, 0, 0], [1, 0, 0], [1, 0, 1], [0, 0, 1], [0, -1, 0]], [[0, 1, 0], [0, 1, 1], [1, 1, 1], [1, 1, 0], [0, 1, 0]],
  [[0, 0, 0], [0, 1, 0], [1, 1, 0], [1, 0, 0], [0, 0, -1]], [[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1], [0, 0, 1]],
];
const EDGES = [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]];

function addBox(to, box, colour, mode, order) {
  FACES.forEach((face) => {
    const first = to.values.length / 11;
    for (let k = 0; k < 4; k++) {
      const corner = face[k];
      to.values.push(box[corner[0]], box[2 + corner[1]], box[4 + corner[2]], ...face[4], ...colour, mode, order);
    }
    to.index.push(first, first + 1, first + 2, first, first + 2, first + 3);
  });
}

function addEdges(to, box) {
  const first = to.values.length / 3;
  for (let k = 0; k < 8; k++) to.values.push(box[k & 1], box[2 + ((k >> 1) & 1)], box[4 + ((k >> 2) & 1)]);
  EDGES.forEach((edge) => to.index.push(first + edge[0], first + edge[1]));
}

/* A round tube between two ends, its water's temperature [K] in place of a colour; without, a plain grey. */
function addTube(to, tube, mode, grey, order) {
  const axis = [0, 1, 2].find((k) => Math.abs(tube.end[k] - tube.start[k]) > 1e-9);
  const u = (axis + 1) % 3, v = (axis + 2) % 3, sides = 28, first = to.values.length / 11;
  const stations = [tube.start[axis], ...tube.places.filter((s) => s > tube.start[axis] && s < tube.end[axis]),
    tube.end[axis]];
  stations.forEach((at) => {
    const kelvin = between(tube.places, tube.kelvin, at), told = mode === WATER && kelvin === kelvin;
    for (let k = 0; k < sides; k++) {
      const angle = 2 * Math.PI * k / sides, normal = [0, 0, 0], place = tube.start.slice();
      normal[u] = Math.cos(angle); normal[v] = Math.sin(angle);
      place[axis] = at; place[u] += tube.radius * normal[u]; place[v] += tube.radius * normal[v];
      to.values.push(...place, ...normal, ...(told ? [kelvin, 0, 0] : grey), told ? WATER : MATERIAL, order);
    }
  });
  for (let s = 0; s + 1 < stations.length; s++) {
    for (let k = 0; k < sides; k++) {
      const a = first + s * sides + k, b = first + s * sides + (k + 1) % sides;
      to.index.push(a, b, b + sides, a, b + sides, a + sides);
    }
  }
  [0, stations.length - 1].forEach((s) => {  /* caps */
    for (let k = 1; k + 1 < sides; k++) to.index.push(first + s * sides, first + s * sides + k, first + s * sides + k + 1);
  });
}

function between(places, values, at) {
  if (!values.length) return NaN;
  if (at <= places[0]) return values[0];
  for (let k = 1; k < places.length; k++) {
    if (at <= places[k]) {
      const share = (at - places[k - 1]) / Math.max(places[k] - places[k - 1], 1e-12);
      return values[k - 1] + share * (values[k] - values[k - 1]);
    }
  }
  return values[values.length - 1];
}

function streamRows(air) {
  const values = [], index = [];
  let first = 0;
  air.counts.forEach((count) => {
    for (let k = 0; k < count; k++) {
      const at = 3 * (first + k), a = 3 * (first + Math.max(k - 1, 0)), b = 3 * (first + Math.min(k + 1, count - 1));
      const along = [0, 1, 2].map((n) => air.points[b + n] - air.points[a + n]);
      const size = Math.hypot(...along) || 1;
      const place = [air.points[at], air.points[at + 1], air.points[at + 2]];
      [-1, 1].forEach((side) => values.push(...place, ...along.map((part) => part / size), side,
        air.kelvin[first + k], air.seconds[first + k]));
      if (k) {
        const v = 2 * (first + k);
        index.push(v - 2, v - 1, v, v - 1, v + 1, v);
      }
    }
    first += count;
  });
  return { values, index };
}

/* Everything that lives on the graphics card; made anew when the card has lost it. */
function makeDrawer(gl, data) {
  const solid = program(gl, SOLID_VERTEX, SOLID_FRAGMENT);
  const line = program(gl, LINE_VERTEX, LINE_FRAGMENT), stream = program(gl, STREAM_VERTEX, STREAM_FRAGMENT);
  const layout = [['place', 3], ['normal', 3], ['colour', 3], ['mode', 1], ['order', 1]];
  const full = rows(gl, solid, layout), glass = rows(gl, solid, layout);
  const edges = rows(gl, line, [['place', 3]]), streams = rows(gl, stream, [['place', 3], ['along', 3], ['side', 3]]);
  const made = data.air.counts.length ? streamRows(data.air) : { values: [], index: [] };
  streams.fill(made.values, made.index);
  const volume = data.volume, floor = data.floor, one = new Float32Array([NaN]);
  const sizes = volume ? [volume.x, volume.y, volume.z].map((e) => e.length - 1) : [1, 1, 1];
  const flat = floor ? [floor.x, floor.y].map((e) => e.length - 1) : [1, 1];
  texture(gl, 0, gl.TEXTURE_3D, () => gl.texImage3D(gl.TEXTURE_3D, 0, gl.R32F, ...sizes, 0, gl.RED, gl.FLOAT,
    volume ? volume.kelvin : one));
  texture(gl, 1, gl.TEXTURE_2D, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, ...flat, 0, gl.RED, gl.FLOAT,
    floor ? floor.apparent : one));
  const axes = [...(volume ? [volume.x, volume.y, volume.z] : [[0, 1], [0, 1], [0, 1]]),
    ...(floor ? [floor.x, floor.y] : [[0, 1], [0, 1]])];
  const widest = Math.max(...axes.map((axis) => axis.length)), table = new Float32Array(5 * widest);
  axes.forEach((axis, row) => table.set(axis, row * widest));
  texture(gl, 2, gl.TEXTURE_2D, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, widest, 5, 0, gl.RED, gl.FLOAT, table));
  texture(gl, 3, gl.TEXTURE_2D, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB8, 256, 2, 0, gl.RGB, gl.UNSIGNED_BYTE,
    data.ramps));
  return { gl, solid, line, stream, full, glass, edges, streams, sizes, flat };
}
