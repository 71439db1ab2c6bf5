"""Style and script of the page: the house page's look, two unit systems, light and dark, screen and paper."""

from __future__ import annotations

from viz.page_style import STYLE

_LIGHT = "--up:#c2560f; --down:#52657a; --edge:#93a1ad; --water:#a8264f; --good:#2f6b3a; --frame:#ffffff"
_DARK = (
    "--ink:#e8e6df; --soft:#a7b0b6; --faint:#3a4248; --paper:#15191c; --tint:#22282c; --mark:#4a3a1c; --warn:#ff9d5c; "
    "--up:#f08a45; --down:#93a9c0; --edge:#7d8b96; --water:#f0749b; --good:#82c78e; --frame:#15191c"
)

MORE = f"""
:root {{ color-scheme:light dark; {_LIGHT} }}
@media screen and (prefers-color-scheme:dark) {{ :root {{ {_DARK} }} .sheetlike {{ background:#fffefb; padding:4px }} }}
.unit {{ position:absolute; opacity:0; pointer-events:none }}
.ip {{ display:none }}
#ip:checked ~ main .ip {{ display:inline }} #ip:checked ~ main .si {{ display:none }}
.bar {{ display:flex; gap:10px; align-items:center; flex-wrap:wrap; justify-content:flex-end; margin:0 0 14px;
  font:13px "Segoe UI","Helvetica Neue",Arial,"DejaVu Sans",sans-serif; color:var(--soft) }}
.bar label {{ border:1.5px solid var(--ink); padding:4px 12px; color:var(--ink); cursor:pointer }}
#si:checked ~ main label[for=si], #ip:checked ~ main label[for=ip] {{ background:var(--ink); color:var(--paper) }}
#si:focus-visible ~ main label[for=si], #ip:focus-visible ~ main label[for=ip],
.map:focus-visible, a:focus-visible, pre:focus-visible {{ outline:3px solid var(--up); outline-offset:2px }}
.skip {{ position:absolute; left:-9999px }}
.skip:focus {{ left:8px; top:8px; background:var(--paper); padding:6px 12px }}
main {{ max-width:900px }} h1 {{ overflow-wrap:anywhere }}
.answer {{ font-size:18px; line-height:1.5; max-width:66ch }}
.warn {{ border-left:5px solid var(--warn); padding:6px 0 6px 14px; max-width:74ch }}
.good {{ border-left:5px solid var(--good); padding:6px 0 6px 14px; max-width:74ch }}
caption {{ text-align:left; color:var(--soft); font-size:13px; padding:2px 0 4px }}
table {{ min-width:0 }} tbody th {{ padding-right:14px }} tr.mark th {{ background:var(--mark) }}
.wide {{ max-width:100% }}
figure svg {{ overflow:visible }} figure img {{ max-width:100%; height:auto }}
svg text {{ font-family:"Segoe UI","Helvetica Neue",Arial,"DejaVu Sans",sans-serif }}
image {{ image-rendering:auto }}
.map {{ position:relative; touch-action:pan-y }} .map .field {{ cursor:crosshair }}
.reading {{ font:14px "Segoe UI","Helvetica Neue",Arial,"DejaVu Sans",sans-serif; min-height:1.5em; margin:6px 0 0 }}
.reading b {{ font-size:17px; margin-right:8px }} figure ~ figure .hint {{ display:none }}
.cross {{ position:absolute; width:15px; height:15px; margin:-8px 0 0 -8px; border:2px solid #fff;
  outline:2px solid #1d2327;  border-radius:50%; pointer-events:none; display:none }}
pre {{ background:var(--tint); padding:12px 14px; overflow:auto; max-height:420px; font-size:12.5px; line-height:1.45;
  white-space:pre-wrap; overflow-wrap:anywhere }}
.wide table td:not(.n) {{ overflow-wrap:break-word }}
@media screen and (min-width:900px) {{ #numbers .wide {{ columns:2; column-gap:48px }} }}
@media (max-width:700px) {{
  .answer {{ font-size:16px }} .facts {{ display:flex; flex-wrap:wrap; gap:8px }} .fact {{ flex:1 1 40% }}
  .fact .big {{ font-size:20px }}
  td, th {{ padding-right:8px }} table {{ font-size:12.5px }} .bar {{ justify-content:flex-start }}
  .closing tr {{ display:grid; grid-template-columns:2fr repeat(4,1fr) }}
  .closing tr > :last-child {{ grid-column:1/-1; font-size:11px; color:var(--soft); min-width:0 !important }}
  .closing thead tr > :last-child {{ display:none }}
  .closing tr > * {{ border-bottom:0; min-width:0; padding:3px 4px 3px 0 }}
  .closing tr {{ border-bottom:1px solid var(--faint) }}
}}
@media print {{
  :root {{ --ink:#1d2327; --soft:#58626a; --faint:#d5dade; --paper:#fff; --tint:#f3f1ea; --mark:#fbeed3;
    --warn:#9c3d00; --frame:#fff; --up:#c2560f; --down:#52657a; --edge:#93a1ad; --water:#a8264f; --good:#2f6b3a }}
  .bar, .reading, .cross, .skip {{ display:none }} figure svg {{ max-height:none; max-width:100%; height:auto }}
  #section figure svg, #heat figure svg {{ max-width:150mm }} figure {{ break-inside:avoid }}
  h2 + .note, caption, thead {{ break-after:avoid }}
  .answer {{ font-size:11pt }}
  pre {{ max-height:none; font-size:7pt; background:#fff; border:1px solid var(--faint); columns:2 }}
  .facts {{ grid-template-columns:repeat(5,1fr); gap:6px }} .fact {{ padding:6px 8px; font-size:7.5pt }}
  .fact .big {{ font-size:12pt }} .fact b {{ font-size:8pt }}
  #cautions > div {{ columns:1 }} caption {{ font-size:8pt }} #numbers .wide {{ columns:1 }}
}}
"""

PAGE_STYLE = STYLE + MORE

SCRIPT = r"""
(function () {
  'use strict';
  function bytes(text) {
    var raw = atob(text), out = new Uint8Array(raw.length);
    for (var k = 0; k < raw.length; k++) out[k] = raw.charCodeAt(k);
    return out.buffer;
  }
  function cell(edges, at) {
    var low = 0, high = edges.length - 2;
    while (low < high) { var mid = (low + high + 1) >> 1; if (edges[mid] <= at) low = mid; else high = mid - 1; }
    return low;
  }
  function inIp() { return document.getElementById('ip').checked; }
  function long(mm) { return inIp() ? (mm / 25.4).toFixed(1) + ' in' : mm.toFixed(0) + ' mm'; }
  function warm(c) { return inIp() ? (c * 1.8 + 32).toFixed(2) + ' °F' : c.toFixed(2) + ' °C'; }
  Array.prototype.forEach.call(document.querySelectorAll('.map'), function (map) {
    var raw = JSON.parse(map.querySelector('script').textContent);
    var x = new Float32Array(bytes(raw.x)), y = new Float32Array(bytes(raw.y)), t = new Int16Array(bytes(raw.t));
    var reading = map.querySelector('.reading'), cross = map.querySelector('.cross'), at = null;
    function field() {
      return Array.prototype.filter.call(map.querySelectorAll('.field'), function (f) {
        return f.getBoundingClientRect().width > 0;
      })[0];
    }
    function tell() {
      if (!at) return;
      var i = cell(x, at[0]), j = cell(y, at[1]), value = t[i * (y.length - 1) + j];
      reading.innerHTML = '';
      var big = document.createElement('b');
      big.textContent = value === -32768 ? 'no floor' : warm(value / 100);
      reading.appendChild(big);
      reading.appendChild(document.createTextNode(long(at[0]) + ' across, ' + long(at[1]) + ' along'));
      var image = field(), box = image.getBoundingClientRect(), home = map.getBoundingClientRect();
      var u = (at[0] - x[0]) / (x[x.length - 1] - x[0]), v = (at[1] - y[0]) / (y[y.length - 1] - y[0]);
      var side = image.classList.contains('side');
      cross.style.left = box.left - home.left + box.width * (side ? v : u) + 'px';
      cross.style.top = box.top - home.top + box.height * (1 - (side ? u : v)) + 'px';
      cross.style.display = 'block';
    }
    function point(event) {
      var image = field();
      if (!image) return;
      var box = image.getBoundingClientRect();
      var h = (event.clientX - box.left) / box.width, v = 1 - (event.clientY - box.top) / box.height;
      if (h < 0 || h > 1 || v < 0 || v > 1) return;
      var side = image.classList.contains('side');
      at = [x[0] + (side ? v : h) * (x[x.length - 1] - x[0]), y[0] + (side ? h : v) * (y[y.length - 1] - y[0])];
      tell();
    }
    map.addEventListener('pointermove', point);
    map.addEventListener('pointerdown', point);
    map.addEventListener('keydown', function (event) {
      var ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }, way = ways[event.key];
      if (!way) return;
      event.preventDefault();
      var image = field(), side = image && image.classList.contains('side');
      if (!at) at = [(x[0] + x[x.length - 1]) / 2, (y[0] + y[y.length - 1]) / 2];
      else {
        var step = event.shiftKey ? 100 : 10, across = side ? way[1] : way[0], along = side ? way[0] : way[1];
        at = [Math.min(Math.max(at[0] + step * across, x[0]), x[x.length - 1]),
              Math.min(Math.max(at[1] + step * along, y[0]), y[y.length - 1])];
      }
      tell();
    });
    document.addEventListener('change', tell);
    window.addEventListener('resize', tell);
  });
})();
"""
