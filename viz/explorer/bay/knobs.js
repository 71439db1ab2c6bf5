// The controls: a label, a field for a typed value and, for what has a range, a slider. They stay where they are while
// values change, so that neither focus nor a drag is lost; what the case's rules refuse is told at the control itself.
'use strict';

function makeKnobs(host, change) {
  var rows = {}, order = '', inch = false, PAUSE = 45;

  var element = Parts.make;

  function told(knob) { return inch ? knob.ip : knob.si; }

  function typed(row, text) {
    var clean = text.trim();
    if (row.knob.kind === 'quantity' && /^[-+\d\s./,]+$/.test(clean) && clean !== '') clean += ' ' + told(row.knob).unit;
    return clean;
  }

  function build(knob, number) {
    var row = { knob: knob, box: element('div', 'knob'), id: 'knob' + number, moving: false, timer: null, waiting: null };
    var label = element('label', '', knob.label);
    label.htmlFor = row.id;
    row.label = label;
    row.why = element('p', 'why');
    row.why.id = row.id + '-why';
    row.why.setAttribute('role', 'alert');
    row.why.hidden = true;
    row.hint = element('p', 'hint');
    row.hint.id = row.id + '-hint';
    row.box.append(label);
    ({ choice: choice, whole: whole, quantity: quantity })[knob.kind](row);
    row.box.append(row.hint, row.why);
    return row;
  }

  function choice(row) {
    row.field = element('select');
    row.field.id = row.id;
    row.knob.choices.forEach(function (name) {
      var option = element('option', '', name);
      option.value = name;
      row.field.append(option);
    });
    row.field.addEventListener('change', function () { change(row.knob.key, row.field.value, false); });
    row.box.append(row.field);
  }

  function whole(row) {
    row.group = element('span', 'pair');
    row.group.setAttribute('role', 'radiogroup');
    row.group.setAttribute('aria-label', row.knob.label);
    row.label.removeAttribute('for');
    for (var count = row.knob.low; count <= row.knob.high; count++) {
      var one = element('label', 'pick'), mark = element('input');
      mark.type = 'radio';
      mark.name = row.id;
      mark.value = count;
      mark.addEventListener('change', function () { change(row.knob.key, this.value, false); });
      one.append(mark, element('span', '', String(count)));
      row.group.append(one);
    }
    row.box.append(row.group);
  }

  function quantity(row) {
    row.field = element('input');
    row.field.type = 'text';
    row.field.id = row.id;
    row.field.spellcheck = false;
    row.field.addEventListener('input', function () { mark(row, true); });
    row.field.addEventListener('blur', function () { commit(row); });
    row.field.addEventListener('keydown', function (event) {
      if (event.key === 'Enter') { event.preventDefault(); commit(row); row.field.select(); }
      if (event.key === 'Escape') { mark(row, false); row.bad = false; fill(row); }
    });
    row.slider = element('input', 'slider');
    row.slider.type = 'range';
    row.slider.setAttribute('aria-label', row.knob.label + ', slider');
    row.slider.addEventListener('input', function () { slide(row, true); });
    row.slider.addEventListener('change', function () { slide(row, false); });
    row.slider.addEventListener('keydown', function (event) { step(row, event); });
    row.box.append(row.field, row.slider);
  }

  // What is typed and not yet sent looks so: the numbers beside it are not of it.
  function mark(row, dirty) {
    row.dirty = dirty;
    row.box.classList.toggle('typed', dirty);
  }

  // What was typed is sent once; what is only shown, rounded, is never sent back.
  function commit(row) {
    if (!row.dirty) return;
    mark(row, false);
    change(row.knob.key, typed(row, row.field.value), false);
  }

  function slide(row, moving) {
    var scale = told(row.knob), number = Math.round(Number(row.slider.value) / scale.step) * scale.step;
    number = Math.round(1e4 * Math.min(Math.max(number, scale.low), scale.high)) / 1e4;
    var text = number + ' ' + scale.unit;
    row.field.value = text;
    mark(row, false);
    row.slider.setAttribute('aria-valuetext', text);
    clearTimeout(row.timer);
    row.moving = moving;
    if (!moving) { row.timer = null; change(row.knob.key, text, false); return; }
    var late = Date.now() - (row.last || 0);
    row.timer = setTimeout(function () { row.last = Date.now(); change(row.knob.key, text, true); }, Math.max(0, PAUSE - late));
  }

  // The arrow keys go from one round value to the next.
  function step(row, event) {
    var scale = told(row.knob), by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 5, PageDown: -5 }[event.key];
    var ends = { Home: scale.low, End: scale.high };
    if (!by && !(event.key in ends)) return;
    event.preventDefault();
    var at = Number(row.slider.value) / scale.step, next = by > 0 ? Math.floor(at + 1e-6) + by : Math.ceil(at - 1e-6) + by;
    row.slider.value = by ? next * scale.step : ends[event.key];
    slide(row, false);
  }

  function fill(row) {
    var knob = row.knob;
    row.label.textContent = knob.label;
    row.hint.textContent = knob.hint;
    row.hint.hidden = !knob.hint;
    if (knob.kind === 'choice') row.field.value = knob.value;
    if (knob.kind === 'whole') Array.prototype.forEach.call(row.group.querySelectorAll('input'), function (mark) { mark.checked = Number(mark.value) === knob.value; });
    if (knob.kind === 'quantity' && !row.moving) {
      var scale = told(knob);
      row.slider.min = scale.low;
      row.slider.max = scale.high;
      row.slider.step = 'any';
      row.slider.value = scale.value;
      row.slider.setAttribute('aria-valuetext', scale.text);
      if (!row.bad && !row.dirty) row.field.value = scale.text;
      row.field.title = knob.rule;
    }
    if (row.field) row.field.setAttribute('aria-describedby', row.why.id + ' ' + row.hint.id);
  }

  return {
    show: function (knobs, inches) {
      inch = inches;
      var keys = knobs.map(function (knob) { return knob.key + knob.kind + (knob.choices || []).length; }).join();
      if (keys !== order) {
        rows = {};
        host.replaceChildren();
        knobs.forEach(function (knob, number) { rows[knob.key] = build(knob, number); host.append(rows[knob.key].box); });
        order = keys;
      }
      knobs.forEach(function (knob) { rows[knob.key].knob = knob; fill(rows[knob.key]); });
    },
    refuse: function (key, why) {
      var row = rows[key];
      if (!row) return false;
      row.bad = true;
      row.why.replaceChildren();
      why.forEach(function (line) { row.why.append(element('span', '', line)); });
      row.why.hidden = false;
      (row.field || row.group).setAttribute('aria-invalid', 'true');
      return true;
    },
    clear: function () {
      Object.keys(rows).forEach(function (key) {
        var row = rows[key];
        row.bad = false;
        row.why.hidden = true;
        (row.field || row.group).removeAttribute('aria-invalid');
      });
    },
    lock: function () { Array.prototype.forEach.call(host.elements, function (one) { one.disabled = true; }); }
  };
}
