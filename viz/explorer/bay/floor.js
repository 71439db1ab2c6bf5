// Floors drawn from their numbers: colours of one scale round the room, outlines, and the value under a pointer.
'use strict';

var Floors = (function () {
  var colours = null, below = 4, above = 12;

  function bytes(text) {
    var raw = atob(text), out = new Uint8Array(raw.length);
    for (var k = 0; k < raw.length; k++) out[k] = raw.charCodeAt(k);
    return out;
  }

  function look(told) {
    colours = bytes(told.colours);
    below = told.below;
    above = told.above;
  }

  function read(floor) {
    return {
      x: new Float32Array(bytes(floor.x).buffer), y: new Float32Array(bytes(floor.y).buffer),
      t: new Int16Array(bytes(floor.t).buffer), parts: floor.parts
    };
  }

  function cell(edges, at) {
    var low = 0, high = edges.length - 2;
    while (low < high) {
      var mid = (low + high + 1) >> 1;
      if (edges[mid] <= at) low = mid; else high = mid - 1;
    }
    return low;
  }

  // For each of `count` dots between the ends: the two cells whose centres are about it, and how far it is between them.
  function between(edges, count) {
    var cells = edges.length - 1, centre = new Float32Array(cells), found = [];
    for (var k = 0; k < cells; k++) centre[k] = (edges[k] + edges[k + 1]) / 2;
    for (var n = 0; n < count; n++) {
      var at = edges[0] + (n + 0.5) / count * (edges[cells] - edges[0]), j = 0;
      while (j < cells - 2 && centre[j + 1] < at) j++;
      var share = cells > 1 ? Math.min(1, Math.max(0, (at - centre[j]) / (centre[j + 1] - centre[j]))) : 0;
      found.push([j, Math.min(j + 1, cells - 1), share]);
    }
    return found;
  }

  function colour(celsius, room) {
    var share = Math.min(1, Math.max(0, (celsius - room + below) / (above + below)));
    return 3 * Math.round(255 * share);
  }

  // The floor lies with its length from left to right.
  function draw(canvas, floor, room, highest, wide) {
    var dots = window.devicePixelRatio > 1 ? 2 : 1;
    var spanX = floor.x[floor.x.length - 1] - floor.x[0], spanY = floor.y[floor.y.length - 1] - floor.y[0];
    var tall = Math.max(26, Math.round(wide * spanX / spanY));
    canvas.width = wide * dots;
    canvas.height = tall * dots;
    canvas.style.width = wide + 'px';
    canvas.style.height = tall + 'px';
    var brush = canvas.getContext('2d'), picture = brush.createImageData(canvas.width, canvas.height);
    fill(picture, floor, room, highest, dots);
    brush.putImageData(picture, 0, 0);
    brush.scale(dots, dots);
    function place(xmm, ymm) {
      return [(ymm - floor.y[0]) / spanY * wide, tall - (xmm - floor.x[0]) / spanX * tall];
    }
    floor.parts.forEach(function (part) { outline(brush, part, place, [wide, tall]); });
    spots(brush, floor, place, [wide, tall]);
    return place;
  }

  function fill(picture, floor, room, highest, dots) {
    var rows = picture.height, columns = picture.width, ny = floor.y.length - 1;
    var along = between(floor.y, columns), across = between(floor.x, rows), data = picture.data;
    for (var row = 0; row < rows; row++) {
      var a = across[rows - 1 - row];
      for (var column = 0; column < columns; column++) {
        var b = along[column], at = 4 * (row * columns + column);
        var t00 = floor.t[a[0] * ny + b[0]], t01 = floor.t[a[0] * ny + b[1]];
        var t10 = floor.t[a[1] * ny + b[0]], t11 = floor.t[a[1] * ny + b[1]];
        if (Math.min(t00, t01, t10, t11) === -32768) continue;
        var celsius = ((t00 * (1 - b[2]) + t01 * b[2]) * (1 - a[2]) + (t10 * (1 - b[2]) + t11 * b[2]) * a[2]) / 100;
        var dark = highest !== null && celsius > highest && (row + column) % (9 * dots) < 1.6 * dots;
        var from = colour(celsius, room);
        for (var k = 0; k < 3; k++) data[at + k] = dark ? [20, 24, 28][k] : colours[from + k];
        data[at + 3] = 255;
      }
    }
  }

  var LOOKS = { plate: [1.2, []], joist: [1, [7, 4]], rim: [1, [7, 4]], rug: [1.6, [6, 2, 1.5, 2]], tube: [1.4, [1.5, 3]] };

  function outline(brush, part, place, size) {
    var look = LOOKS[part.kind], a = place(part.box[0], part.box[2]), b = place(part.box[1], part.box[3]);
    var edges = [[a[0], a[1], b[0], a[1]], [a[0], b[1], b[0], b[1]], [a[0], a[1], a[0], b[1]], [b[0], a[1], b[0], b[1]]];
    if (part.kind === 'tube') {
      var lies = Math.abs(b[0] - a[0]) > Math.abs(b[1] - a[1]), u = (a[0] + b[0]) / 2, v = (a[1] + b[1]) / 2;
      edges = [lies ? [a[0], v, b[0], v] : [u, a[1], u, b[1]]];
    }
    ['rgba(255,255,255,.75)', '#1d2327'].forEach(function (ink, turn) {
      brush.strokeStyle = ink;
      brush.lineWidth = look[0] + (turn ? 0 : 1.4);
      brush.setLineDash(look[1]);
      brush.beginPath();
      edges.forEach(function (edge) {
        var outer = [0, 2].every(function (k) { return edge[k] < 0.5 || edge[k] > size[0] - 0.5; }) && edge[0] === edge[2] ||
          [1, 3].every(function (k) { return edge[k] < 0.5 || edge[k] > size[1] - 0.5; }) && edge[1] === edge[3];
        if (outer) return;
        brush.moveTo(edge[0], edge[1]);
        brush.lineTo(edge[2], edge[3]);
      });
      brush.stroke();
    });
    brush.setLineDash([]);
  }

  function spots(brush, floor, place, size) {
    var ny = floor.y.length - 1, warmest = -1, coolest = -1;
    for (var k = 0; k < floor.t.length; k++) {
      if (floor.t[k] === -32768) continue;
      if (warmest < 0 || floor.t[k] > floor.t[warmest]) warmest = k;
      if (coolest < 0 || floor.t[k] < floor.t[coolest]) coolest = k;
    }
    [[warmest, -1, '#ffffff', '#1d2327'], [coolest, 1, '#1d2327', '#ffffff']].forEach(function (spot) {
      if (spot[0] < 0) return;
      var i = Math.floor(spot[0] / ny), j = spot[0] % ny;
      var at = place((floor.x[i] + floor.x[i + 1]) / 2, (floor.y[j] + floor.y[j + 1]) / 2), way = spot[1];
      at = [Math.min(Math.max(at[0], 7), size[0] - 7), Math.min(Math.max(at[1], 7), size[1] - 7)];
      brush.beginPath();
      brush.moveTo(at[0], at[1] + 6 * way);
      brush.lineTo(at[0] - 5.5, at[1] - 4 * way);
      brush.lineTo(at[0] + 5.5, at[1] - 4 * way);
      brush.closePath();
      brush.fillStyle = spot[2];
      brush.fill();
      brush.lineWidth = 1.2;
      brush.strokeStyle = spot[3];
      brush.stroke();
    });
  }

  // The scale: room − 4 to room + 12 K, with a bracket over what this floor takes of it.
  function scale(canvas, room, ends, inch, wide, ink) {
    var dots = window.devicePixelRatio > 1 ? 2 : 1, tall = 52, left = 18, right = 46;
    canvas.width = wide * dots;
    canvas.height = tall * dots;
    canvas.style.width = wide + 'px';
    canvas.style.height = tall + 'px';
    var brush = canvas.getContext('2d'), long = wide - left - right;
    brush.scale(dots, dots);
    for (var k = 0; k < 256; k++) {
      brush.fillStyle = 'rgb(' + colours[3 * k] + ',' + colours[3 * k + 1] + ',' + colours[3 * k + 2] + ')';
      brush.fillRect(left + long * k / 256, 14, long / 256 + 1, 11);
    }
    function at(celsius) { return left + long * Math.min(1, Math.max(0, (celsius - room + below) / (above + below))); }
    brush.fillStyle = brush.strokeStyle = ink;
    brush.font = '11px "Segoe UI","Helvetica Neue",Arial,"DejaVu Sans",sans-serif';
    brush.textAlign = 'center';
    for (var step = -below; step <= above; step += 4) {
      var value = inch ? (room + step) * 1.8 + 32 : room + step;
      var unit = step >= above ? (inch ? ' °F' : ' °C') : '';
      brush.fillText(String(Math.round(10 * value) / 10) + unit, at(room + step), 37);
    }
    brush.fillText('room', at(room), 49);
    brush.lineWidth = 1.4;
    brush.beginPath();
    brush.moveTo(at(ends[0]), 13);
    brush.lineTo(at(ends[0]), 8);
    brush.lineTo(at(ends[1]), 8);
    brush.lineTo(at(ends[1]), 13);
    brush.stroke();
    brush.textAlign = at(ends[1]) < left + 0.7 * long ? 'left' : 'right';
    brush.fillText('this floor', brush.textAlign === 'left' ? at(ends[1]) + 5 : at(ends[0]) - 5, 11);
  }

  // Lets a pointer and the arrow keys read a map; `show` gets the place [mm] and the temperature, or null.
  function readable(host, current, show) {
    var spot = null;
    function tell() {
      var floor = current();
      if (!floor || !spot) return show(null);
      var i = cell(floor.x, spot[0]), j = cell(floor.y, spot[1]), value = floor.t[i * (floor.y.length - 1) + j];
      show({ across: spot[0] - floor.x[0], along: spot[1] - floor.y[0], celsius: value === -32768 ? null : value / 100,
             u: (spot[1] - floor.y[0]) / (floor.y[floor.y.length - 1] - floor.y[0]),
             v: 1 - (spot[0] - floor.x[0]) / (floor.x[floor.x.length - 1] - floor.x[0]) });
    }
    function point(event) {
      var floor = current(), box = host.querySelector('canvas').getBoundingClientRect();
      var u = (event.clientX - box.left) / box.width, v = 1 - (event.clientY - box.top) / box.height;
      if (!floor || u < 0 || u > 1 || v < 0 || v > 1) return;
      spot = [floor.x[0] + v * (floor.x[floor.x.length - 1] - floor.x[0]), floor.y[0] + u * (floor.y[floor.y.length - 1] - floor.y[0])];
      tell();
    }
    host.addEventListener('pointermove', point);
    host.addEventListener('pointerdown', point);
    host.addEventListener('keydown', function (event) {
      var ways = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [1, 0], ArrowDown: [-1, 0] }, way = ways[event.key], floor = current();
      if (!way || !floor) return;
      event.preventDefault();
      var lastX = floor.x[floor.x.length - 1], lastY = floor.y[floor.y.length - 1], step = event.shiftKey ? 100 : 10;
      if (!spot) spot = [(floor.x[0] + lastX) / 2, (floor.y[0] + lastY) / 2];
      else spot = [Math.min(Math.max(spot[0] + step * way[0], floor.x[0]), lastX), Math.min(Math.max(spot[1] + step * way[1], floor.y[0]), lastY)];
      tell();
    });
    return tell;
  }

  return { look: look, read: read, draw: draw, scale: scale, readable: readable };
})();
