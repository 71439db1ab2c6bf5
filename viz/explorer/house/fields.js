// Controls that are typed or chosen; a refusal is told at the control itself, and what was typed stays there.
'use strict';

function makeFields(host, change) {
  var rows = {}, order = '', system = 'si';

  var element = Parts.make;

  function withUnits(control, text) {  // a bare number is in the units that are shown
    return text.split(',').map(function (part) {
      return control.unit && /^\s*[-+]?[\d./\s]*\d\s*$/.test(part) ? part.trim() + ' ' + control.unit[system] : part;
    }).join(',');
  }

  function build(control, number) {
    var row = { control: control, box: element('div', 'field'), id: host.id + number }, label = element('label', '', control.label);
    label.htmlFor = row.id;
    row.field = element(control.kind === 'choice' ? 'select' : 'input');
    row.field.id = row.id;
    if (control.kind === 'choice') {
      control.choices.forEach(function (pair) {
        var option = element('option', '', pair[1]);
        option.value = pair[0];
        row.field.append(option);
      });
    } else row.field.type = 'text';
    row.why = element('p', 'why');
    row.why.id = row.id + '-why';
    row.why.setAttribute('role', 'alert');
    row.why.hidden = true;
    row.field.setAttribute('aria-describedby', row.why.id);
    row.field.addEventListener('change', function () { row.typed = true; change(control.key, withUnits(row.control, row.field.value)); });
    row.box.append(label, row.field);
    if (control.hint) row.box.append(element('p', 'hint', control.hint));
    row.box.append(row.why);
    return row;
  }

  return {
    show: function (controls, inch) {
      system = inch ? 'ip' : 'si';
      var now = JSON.stringify(controls.map(function (one) { return [one.key, one.choices]; }));
      if (now !== order) {
        order = now;
        rows = {};
        host.querySelectorAll('.field').forEach(function (one) { one.remove(); });
        controls.forEach(function (control, number) {
          rows[control.key] = build(control, number);
          host.append(rows[control.key].box);
        });
      }
      controls.forEach(function (control) {
        var row = rows[control.key];
        row.control = control;
        row.field.value = control.kind === 'choice' ? control.value : inch ? control.ip : control.si;
        row.why.hidden = true;
        row.field.removeAttribute('aria-invalid');
      });
    },
    refuse: function (key, why) {
      var row = rows[key];
      if (!row) return false;
      row.why.textContent = why.join(' ');
      row.why.hidden = false;
      row.field.setAttribute('aria-invalid', 'true');
      return true;
    },
    lock: function () { host.querySelectorAll('input, select').forEach(function (one) { one.disabled = true; }); }
  };
}
