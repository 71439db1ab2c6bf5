// The page of a house: plans to choose a room on, its controls, and what the house comes to; nothing old is shown as new.
'use strict';

(function () {
  var session = null, answer = null, outline = null, failed = null, going = null, sent = 0, heard = 0, over = false, source = '';
  var inch = sessionStorage.getItem('units') === 'ip', chosen = sessionStorage.getItem('units') !== null;

  var get = Parts.get, make = Parts.make, on = Parts.on;
  function pick(told) { return told ? (inch ? told.ip : told.si) : ''; }
  function say(message) { return line.say(message); }
  function ask(message) { sent = say(message); failed = null; showState(); }
  function isFresh() { return !over && answer && session && answer.change === session.change && heard >= sent; }

  var own = makeFields(get('own'), set), whole = makeFields(get('whole'), set);
  function set(key, text) { ask({ do: 'set', key: key, text: text }); }

  var line = openLine(function (message) {
    var hears = { hello: hello, session: showSession, answer: hearAnswer, outline: hearOutline, working: hearWorking, progress: hearProgress,
                  failed: hearFailed, refused: hearRefused, file: Parts.hand, full: tooMany };
    if (hears[message.kind]) hears[message.kind](message);
  }, function () { end(Parts.lost); });

  function tooMany(message) { end(Parts.tooMany(message)); }

  function end(words) {
    over = true;
    get('gone').textContent = words;
    get('gone').hidden = false;
    own.lock();
    whole.lock();
    document.querySelectorAll('.tools button').forEach(function (one) { one.disabled = !['si', 'ip'].includes(one.id); });
    showState();
  }

  function hello(message) {
    if (!chosen) inch = message.look.units === 'ip';
    get('ends').textContent = message.look.ends;
    Parts.showUnits(inch);
  }

  function showSession(message) {
    session = message;
    heard = Math.max(heard, message.seq);
    document.title = message.title + ' – joistbay explorer';
    get('title').textContent = message.title;
    get('room-title').textContent = message.room_title;
    get('undo').disabled = !message.undo || over;
    get('redo').disabled = !message.redo || over;
    get('again').disabled = !message.changed || over;
    showControls();
    markRoom();
    showState();
  }

  function showControls() {
    if (!session) return;
    own.show(session.own, inch);
    whole.show(session.house, inch);
  }

  function hearWorking(message) {
    going = { change: message.change, mesh: message.mesh };
    showState();
  }
  function hearProgress(message) {
    if (session && message.change === session.change) going = message;
    showState();
  }
  function hearOutline(message) {
    if (answer) return;
    outline = message;
    showPlans();
    showState();
  }
  function hearFailed(message) {
    if (!session || message.change < session.change) return;
    failed = message;
    going = null;
    showState();
  }
  function hearRefused(message) {
    heard = Math.max(heard, message.seq);
    if (!own.refuse(message.key, message.why) && !whole.refuse(message.key, message.why)) {
      failed = { change: session.change, why: message.why.join(' ') };
    }
    showState();
  }
  function hearAnswer(message) {
    if (!session || (answer && message.change < answer.change)) return;
    answer = message;
    going = null;
    failed = null;
    var names = answer.layouts.map(function (one) { return one.source; }), select = get('source');
    if (!names.includes(source)) source = names[0];
    select.replaceChildren();
    names.forEach(function (name) { select.append(new Option(name, name, false, name === source)); });
    showAnswer();
  }

  function showState() {
    if (!session) return;
    document.body.classList.toggle('unanswered', !answer);
    var state = get('state'), words = '', kind = '', fresh = isFresh(), working = going && going.change === session.change;
    if (over) words = 'Numbers of the last house that was laid out.';
    else if (failed && failed.change === session.change) { words = (/^was /.test(failed.why) ? 'Laying out ' + failed.why : 'This house could not be laid out: ' + failed.why) + '.' + (answer && !fresh ? ' The greyed numbers are those of the house before.' : ''); kind = 'bad'; }
    else if (working) {
      words = (going.mesh === 'own' ? 'Laying out with bays on their own mesh' : 'Laying out with bays on a coarse mesh');
      if (going.of) words += ': ' + going.what + ', ' + going.done + ' of ' + going.of + (going.bay ? ', last that of ' + going.bay : '');
      words += '.' + (answer && !fresh ? ' The greyed numbers are those of the house before.' : answer ? '' : ' The first time takes minutes; solved bays are kept.' + (outline ? ' The plan is that of the file: choose a room on it meanwhile.' : ''));
      kind = fresh ? '' : 'old';
    } else if (!fresh) { words = answer ? 'The greyed numbers are those of the house before.' : 'Getting ready.'; kind = 'old'; }
    else if (answer.mesh === 'own') words = 'Laid out with every bay on its own mesh.';
    else words = 'Laid out with bays on a coarse mesh, for a first look; their own mesh when you ask for it.';
    if (state.dataset.words !== words) {
      state.dataset.words = words;
      state.replaceChildren(make('span', '', words));
      if (kind === 'bad') state.append(button('Try again', function () { ask({ do: 'retry' }); }));
      if (working) state.append(button('Stop', function () { say({ do: 'cancel' }); }));
      else if (fresh && answer.mesh !== 'own') state.append(button('On their own mesh', function () { say({ do: 'own' }); }));
    }
    state.className = 'state ' + kind;
    get('bar').hidden = !(working && going.of);
    get('bar').max = working && going.of || 1;
    get('bar').value = working && going.done || 0;
    document.body.classList.toggle('stale', !fresh);
    document.querySelectorAll('.results').forEach(function (one) { one.setAttribute('aria-busy', String(!fresh)); });
  }

  function button(words, act) {
    var made = make('button', 'small', words);
    made.type = 'button';
    made.addEventListener('click', act);
    return made;
  }

  function layout() { return answer && answer.layouts.find(function (one) { return one.source === source; }); }

  function showAnswer() {
    if (!answer) return;
    showFacts();
    showPlans();
    showRooms();
    showCircuits();
    showCautions();
    showState();
  }

  function showFacts() {
    get('facts').replaceChildren();
    layout().facts.forEach(function (fact) {
      var box = make('div', 'fact');
      box.append(make('span', '', fact.label), make('b', '', pick(fact)), make('small', '', fact.note));
      get('facts').append(box);
    });
  }

  function showPlans() {
    var host = get('plans'), lacks = {}, focused = document.activeElement && document.activeElement.dataset.room;
    if (!answer && !outline) return;
    if (answer) layout().rooms.forEach(function (room) { if (room.short) lacks[room.name] = pick(room.cells.lacks); });
    host.replaceChildren();
    (answer ? layout() : outline).storeys.forEach(function (storey) {
      var plan = make('div', 'plan'), drawn = new DOMParser().parseFromString(pick(storey.svg), 'image/svg+xml').documentElement;
      plan.append(document.importNode(drawn, true));
      plan.firstChild.setAttribute('aria-hidden', 'true');
      storey.rooms.forEach(function (room) {
        var one = make('button', lacks[room.name] ? 'short' : '');
        one.type = 'button';
        one.dataset.room = room.name;
        one.setAttribute('aria-label', room.title + ', ' + storey.name + ' storey' + (lacks[room.name] ? ', lacks ' + lacks[room.name] : ''));
        ['left', 'top', 'width', 'height'].forEach(function (side, k) { one.style[side] = room.at[k] + '%'; });
        if (room.shape) one.style.clipPath = room.shape;
        one.addEventListener('click', function () { choose(room.name); });
        plan.append(one);
        if (lacks[room.name]) plan.append(badge(room.under, 'lacks ' + lacks[room.name]));
      });
      host.append(make('h2', '', 'Storey: ' + storey.name), plan);
    });
    markRoom();
    if (focused) host.querySelectorAll('button').forEach(function (one) { if (one.dataset.room === focused) one.focus(); });
  }

  // Under the room's name, and no further out than the plan's edge.
  function badge(under, words) {
    var one = make('span', 'badge', words);
    one.setAttribute('aria-hidden', 'true');
    one.style.left = 'min(' + under[0] + '%, 100% - ' + (0.3 * words.length) + 'em)';
    one.style.top = under[1] + '%';
    return one;
  }

  function choose(name) { say({ do: 'room', room: name }); }

  function markRoom() {
    if (!session) return;
    document.querySelectorAll('.plan button').forEach(function (one) { one.setAttribute('aria-pressed', String(one.dataset.room === session.room)); });
    document.querySelectorAll('#rooms tr').forEach(function (one) {
      if (one.dataset.room === session.room) one.setAttribute('aria-current', 'true');
      else one.removeAttribute('aria-current');
    });
  }

  function showRooms() {
    var body = get('rooms');
    body.replaceChildren();
    layout().rooms.forEach(function (room) {
      var row = make('tr'), head = make('th'), name = make('button', '', room.name + ' ' + room.title);
      name.type = 'button';
      name.addEventListener('click', function () { choose(room.name); });
      head.append(name);
      if (room.broken) head.append(make('small', 'broken-note', 'breaks: ' + room.broken));
      row.dataset.room = room.name;
      row.append(head);
      ['load', 'gives', 'lacks', 'plates', 'needs', 'mean', 'peak'].forEach(function (cell) {
        row.append(make('td', cell === 'lacks' && room.short ? 'n lacks' : 'n', pick(room.cells[cell])));
      });
      body.append(row);
    });
    markRoom();
  }

  function showCircuits() {
    var body = get('circuits'), counts = get('counts');
    body.replaceChildren();
    layout().circuits.forEach(function (circuit) {
      var row = make('tr');
      row.append(make('th', '', circuit.name));
      ['length', 'flow', 'back', 'heat', 'head'].forEach(function (cell) { row.append(make('td', 'n', pick(circuit.cells[cell]))); });
      body.append(row);
    });
    counts.replaceChildren();
    layout().counts.forEach(function (count) {
      var row = make('tr');
      row.append(make('th', '', count.label), make('td', 'n', pick(count)));
      counts.append(row);
    });
  }

  function showCautions() {
    var own = layout().cautions[inch ? 'ip' : 'si'], host = get('cautions');
    get('minding').textContent = 'To mind: ' + own.length;
    host.replaceChildren();
    own.forEach(function (one) {
      var row = make('div', one.broken ? 'caution broken' : 'caution');
      row.append(make('b', '', one.subject), document.createTextNode(' ' + one.text), make('small', '', one.source));
      host.append(row);
    });
  }

  function flip(to) {
    inch = to;
    sessionStorage.setItem('units', inch ? 'ip' : 'si');
    Parts.showUnits(inch);
    showControls();
    if (answer) showAnswer(); else showPlans();
  }

  ['undo', 'redo', 'again'].forEach(function (name) { on(name, function () { ask({ do: name }); }); });
  on('save', function () { say({ do: 'save' }); });
  on('si', function () { flip(false); });
  on('ip', function () { flip(true); });
  get('source').addEventListener('change', function () { source = get('source').value; showAnswer(); });
  document.querySelectorAll('form').forEach(function (form) { form.addEventListener('submit', function (event) { event.preventDefault(); }); });
  document.addEventListener('keydown', function (event) {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z' || event.target.tagName === 'INPUT') return;
    event.preventDefault();
    get(event.shiftKey ? 'redo' : 'undo').click();
  });
})();
