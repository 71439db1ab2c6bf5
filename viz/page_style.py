"""The style sheet of a printed page: ink on paper, no colour needed to understand it; colours of a dark screen."""

from __future__ import annotations

STYLE = """
:root { --ink:#1d2327; --soft:#58626a; --faint:#d5dade; --paper:#fffefb; --tint:#f3f1ea; --mark:#fbeed3;
  --warn:#9c3d00 }
* { box-sizing:border-box }
html { -webkit-text-size-adjust:100% }
body { margin:0; background:var(--paper); color:var(--ink);
  font:15px/1.5 Georgia,"Iowan Old Style","DejaVu Serif",serif }
main { max-width:1080px; margin:0 auto; padding:28px 24px 60px }
h1 { font-size:30px; line-height:1.2; margin:0 0 4px; font-weight:600 }
h2 { font-size:21px; margin:44px 0 10px; padding-top:12px; border-top:2px solid var(--ink); font-weight:600 }
h3 { font-size:16px; margin:24px 0 6px; font-weight:600 }
p { margin:6px 0 10px; max-width:74ch }
.lead { color:var(--soft); margin-top:0 }
.note, figcaption, small { color:var(--soft); font-size:13px }
table, nav, .badge, svg, .facts, .blank, th, figcaption {
  font-family:"Segoe UI","Helvetica Neue",Arial,"DejaVu Sans",sans-serif }
table { border-collapse:collapse; font-size:13px; line-height:1.35; margin:8px 0 14px; min-width:min(100%,560px) }
th { text-align:left; font-weight:600; vertical-align:bottom; padding:5px 12px 5px 0;
  border-bottom:1.5px solid var(--ink) }
th small { display:block; font-weight:400; font-size:11.5px }
tbody th { border-bottom:1px solid var(--faint); font-weight:400; vertical-align:top }
td { padding:4px 12px 4px 0; border-bottom:1px solid var(--faint); vertical-align:top }
th.n, td.n { text-align:right; font-variant-numeric:tabular-nums }
td.n, .whole { white-space:nowrap }
tr.mark td { background:var(--mark) }
tr.group td { font-weight:600; padding-top:12px; border-bottom:1px solid var(--ink) }
.wide { overflow-x:auto }
nav { font-size:13px; columns:3 220px; margin:18px 0 0; padding:12px 0; border-top:1px solid var(--faint);
  border-bottom:1px solid var(--faint) }
nav a { display:block; color:var(--ink); text-decoration:none; padding:2px 0; break-inside:avoid }
nav a:hover { text-decoration:underline }
.facts { display:grid; grid-template-columns:repeat(auto-fit,minmax(230px,1fr)); gap:14px; margin:18px 0 4px }
.fact { background:var(--tint); padding:12px 14px; border-left:4px solid var(--ink); font-size:13px;
  break-inside:avoid }
.fact b { display:block; font-size:15px; margin-bottom:2px }
.fact .big { font-size:25px; line-height:1.25; display:block } .fact .big.long { font-size:18px; line-height:1.74 }
.short { color:var(--warn); font-weight:600 }
figure { margin:14px 0 20px; break-inside:avoid }
.plan figure { margin-top:-14px }
.phone, .paper { display:none }
figure svg { max-width:100%; height:auto; display:block }
figcaption { margin-top:4px; max-width:90ch }
ul { padding-left:20px; margin:6px 0 12px; max-width:90ch }
li { margin:3px 0 }
.todo { list-style:none; padding-left:0; max-width:none }
.todo li { padding:5px 0 5px 28px; position:relative; break-inside:avoid }
.todo li::before { content:""; position:absolute; left:0; top:8px; width:14px; height:14px;
  border:1.5px solid var(--ink) }
.blank { display:inline-block; min-width:84px; border-bottom:1px solid var(--ink); height:1.2em }
.blank.long { min-width:260px }
h2 + p { break-after:avoid }
.columns { display:grid; grid-template-columns:repeat(auto-fit,minmax(270px,1fr)); gap:0 28px; font-size:13.5px }
.columns .note { font-size:12px }
.columns > div { break-inside:avoid }
.fill { max-width:none; line-height:2.1 }
.fill span { margin-right:14px }
.fill > span { white-space:nowrap }
.cautions { display:grid; grid-template-columns:1fr; gap:0 }
.caution { padding:9px 0; border-bottom:1px solid var(--faint); break-inside:avoid; max-width:100ch }
.caution b { margin-right:6px }
.caution.broken { border-left:4px solid var(--warn); padding-left:12px }
.caution small { display:block }
.badge { font-size:12px; border:1.5px solid var(--warn); color:var(--warn); padding:0 6px; margin-right:8px;
  font-weight:600 }
footer { margin-top:44px; padding-top:12px; border-top:2px solid var(--ink); color:var(--soft); font-size:13px }
summary { cursor:pointer; list-style:none } summary::-webkit-details-marker { display:none }
summary :is(h2, h3) { padding-right:32px; position:relative } summary h2 { margin-bottom:0 }
summary :is(h2, h3)::after { content:"+"; position:absolute; right:6px; font-weight:400; color:var(--soft) }
details[open] > summary h2 { margin-bottom:10px } details[open] > summary :is(h2, h3)::after { content:"−" }
details:not([open]) + details:not([open]),
section:has(> details:not([open])) + section > details:not([open]) > summary h2 { margin-top:20px }
summary:focus-visible { outline:3px solid var(--soft); outline-offset:2px }
@media (min-width:701px) {
  .narrow > summary { pointer-events:none } .narrow > summary :is(h2, h3)::after { content:none !important }
  .narrow > summary :is(h2, h3) { padding-right:0 }
}
@media (max-width:700px) {
  body { font-size:14px } main { padding:18px 14px 40px } h1 { font-size:25px } h2 { font-size:19px }
  .desk { display:none } .phone { display:block } td.n { white-space:normal }
  .blank.long { min-width:140px } .wide table:not(.cards) td:last-child:not(.n), td.long { min-width:140px }
  .cards thead { display:none } .cards, .cards tbody { display:block }
  .cards tr { display:grid; grid-template-columns:repeat(auto-fit,minmax(76px,1fr)); gap:3px 10px; padding:7px 0;
    border-bottom:1px solid var(--faint) }
  .wide .cards td { border:0; padding:0; min-width:0; text-align:left; overflow-wrap:anywhere }
  .cards td::before { content:attr(data-head); display:block; font-size:10.5px; line-height:1.2; color:var(--soft) }
  .cards td:first-child { grid-column:1/-1; font-weight:600 }
  .cards td:first-child::before { content:attr(data-head) " "; display:inline; font-weight:400 }
  .cards td.long { grid-column:1/-1 } .cards td:empty { display:none }
  .cards tr.mark { background:var(--mark) } .cards tr.mark td { background:none }
  figure:has(> svg) { overflow-x:auto } figure > svg { max-width:none; min-width:560px }
}
@page { size:auto; margin:11mm 12mm }
@media print {
  .desk, .paper { display:block } .phone, .other, .screen { display:none } nav { display:none }
  body { font-size:9pt; line-height:1.32; background:#fff } main { max-width:none; padding:0 }
  h2 { margin-top:14px; padding-top:6px } h2, h3 { break-after:avoid }
  section.sheet h2 { margin-top:14px }
  table { font-size:8pt; line-height:1.25; margin:4px 0 8px }
  thead { display:table-header-group } tr { break-inside:avoid }
  td { padding:1px 6px 1px 0 } th { padding:3px 6px 3px 0 }
  small, th small, .note, .badge, figcaption { font-size:8pt }
  h3 { margin:14px 0 3px }
  details::details-content { content-visibility:visible; display:block; height:auto }
  summary :is(h2, h3)::after { content:none !important } summary h2 { margin-bottom:10px }
  .wide { overflow:visible } .facts { grid-template-columns:repeat(auto-fit,minmax(56mm,1fr)) }
  figure svg { max-height:52mm; width:auto } .plan svg { max-height:126mm } .paper svg { max-height:none }
  .columns { grid-template-columns:repeat(3,1fr); font-size:8pt; line-height:1.25 }
  .columns .note { font-size:8pt } li { margin:1px 0 } p { margin:3px 0 5px }
  .todo li { padding-top:1px; padding-bottom:1px } .todo li::before { top:3px }
  #commissioning h3 { margin-top:12px } #commissioning td { padding-top:5px }
  .fill { line-height:1.8; margin:2px 0 4px }
  .blank.long { min-width:170px } .fill span { margin-right:8px } .blank { min-width:70px }
  #cautions > div { columns:2; column-gap:7mm } .caution { padding:3px 0; font-size:8.4pt; line-height:1.25 }
  footer { margin-top:8px; padding-top:4px; font-size:8pt }
  figure { margin:8px 0 10px }
  .fact, tr.mark td { print-color-adjust:exact; -webkit-print-color-adjust:exact }
  svg { print-color-adjust:exact; -webkit-print-color-adjust:exact }
}
"""

DARK = """
@media screen and (prefers-color-scheme:dark) {
  :root { color-scheme:dark; --ink:#e8e5dd; --soft:#aab3b9; --faint:#3b4247; --paper:#16191c; --tint:#22272b;
    --mark:#4a3c14; --warn:#ffb27a }
  figure svg { background:#fffefb; border-radius:4px }
}
"""
"""Colours of a page whose drawings are ink on paper, on a screen that asks for dark ones; print stays white."""

UNFOLD = r"""
(function () {
  'use strict';
  function each(what) { Array.prototype.forEach.call(document.querySelectorAll('details'), what); }
  function meet() {
    var at = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    var folded = at && at.querySelector(':scope > details');
    if (folded) folded.open = true;
  }
  var narrow = window.matchMedia('(max-width:700px)');
  function fit() {
    each(function (d) {
      if (!d.classList.contains('narrow')) return;
      d.open = !narrow.matches;
      d.firstElementChild.tabIndex = narrow.matches ? 0 : -1;
    });
  }
  narrow.addEventListener('change', function () { if (!printing) fit(); });
  var printing = false;
  fit();
  window.addEventListener('hashchange', meet);
  document.addEventListener('click', function (event) {
    if (event.target.closest && event.target.closest('nav a')) setTimeout(meet, 0);
  });
  meet();
  window.addEventListener('beforeprint', function () {
    printing = true;
    each(function (d) { d.was = d.open; d.open = true; });
  });
  window.addEventListener('afterprint', function () {
    printing = false;
    each(function (d) { d.open = d.was; });
  });
})();
"""
"""Opens the chapter that a link leads to, and all of them while the page is printed; folds for phones what they may."""
