// The page of a bay: what the program says is shown with the change that it belongs to; nothing old is shown as new.
'use strict';

(function () {
  var session = null, answer = null, needed = null, failed = null, air = { state: 'none' };
  var sent = 0, heard = 0, asked = Date.now(), own = false, over = false;
  var inch = sessionStorage.getItem('units') === 'ip', chosen = sessionStorage.getItem('units') !== null;
  var floor = null, airFloor = null;

  var get = Parts.get, make = Parts.make, on = Parts.on;
  function pick(told) { return told ? (inch ? told.ip : told.si) : ''; }
  function degrees(celsius) { return inch ? (celsius * 1.8 + 32).toFixed(2) + ' °F' : celsius.toFixed(2) + ' °C'; }
  function long(mm) { return inch ? (mm / 25.4).toFixed(1) + ' in' : mm.toFixed(0) + ' mm'; }
  function ink() { return getComputedStyle(document.body).color; }
  function say(message) {
    message.units = inch ? 'ip' : 'si';
    return line.say(message);
  }

  // What changes the bay makes all numbers old at once, before the program has heard of it.
  function ask(message) {
    sent = say(message);
    asked = Date.now();
    showState();
  }
  function isFresh() {
    return !over && answer !== null && session !== null && answer.change === session.change && heard >= sent;
  }

  var knobs = makeKnobs(get('controls'), function (key, text, moving) {
    ask({ do: 'set', key: key, text: text, moving: moving });
  });
  var tell = Floors.readable(get('map'), function () { return floor; }, showReading);

  var turned = makeTurned(get, say, function () { return session ? session.change : 0; });

  var line = openLine(function (message) {
    var hears = { hello: hello, session: showSession, answer: hearAnswer, needed: hearNeeded, working: hearWorking, failed: hearFailed,
                  refused: hearRefused, air: hearAir, scene: turned.hear, file: giveFile, full: tooMany };
    if (hears[message.kind]) hears[message.kind](message);
  }, function () { end(Parts.lost); });

  function tooMany(message) { end(Parts.tooMany(message)); }

  function end(words) {
    over = true;
    get('gone').textContent = words;
    get('gone').hidden = false;
    knobs.lock();
    Array.prototype.forEach.call(document.querySelectorAll('main button'), function (one) { one.disabled = !['si', 'ip'].includes(one.id); });
    showState();
  }

  function hello(message) {
    Floors.look(message.look);
    get('ends').textContent = message.look.ends;
    setUnits();
    var host = get('bays');
    host.replaceChildren();
    message.bays.forEach(function (bay) {
      var card = make('button', 'bay');
      card.type = 'button';
      card.append(make('b', '', bay.title), make('span', '', bay.line));
      card.addEventListener('click', function () { say({ do: 'open', bay: bay.name }); });
      host.append(card);
    });
    if (!session) choose(false);
  }

  function choose(canReturn) {
    get('start').hidden = false;
    get('bay').hidden = true;
    get('back-row').hidden = !canReturn;
    get('open-why').hidden = true;
    document.title = 'Which bay? – joistbay explorer';
  }

  function showSession(message) {
    var other = !session || session.name !== message.name || session.title !== message.title;
    session = message;
    heard = Math.max(heard, message.seq);
    if (other) needed = failed = null;
    if (other && !chosen) { inch = message.units === 'ip'; setUnits(); }
    if (message.seq >= sent) knobs.clear();
    get('start').hidden = true;
    get('bay').hidden = false;
    get('title').textContent = session.title;
    document.title = session.title + ' – joistbay explorer';
    get('undo').disabled = !session.undo || over;
    get('redo').disabled = !session.redo || over;
    get('again').disabled = !session.changed || over;
    if (message.seq >= sent || message.seq < 0) showControls();
    if (document.activeElement !== get('wish')) get('wish').value = pick(session.wish);
    if (message.seq >= sent) get('wish-why').hidden = true;
    showDiffers();
    showPins();
    showNeeded();
    showState();
    showAir();
    turned.words();
  }

  function showControls() { knobs.show(session.controls, inch); }

  function showDiffers() {
    var words = pick(session.differs), part = session.span === 'pitch' ? 'One plate pitch, repeated' : 'The whole bay';
    get('differs').textContent = words ? 'Changed: ' + words + '.' : part + ', as opened.';
  }

  function hearWorking(message) {
    if (session && message.change === session.change) own = true;
    showState();
  }

  function hearAnswer(message) {
    if (!session || (answer && message.change < answer.change)) return;
    if (answer && answer.change === message.change && answer.mesh === 'own' && message.mesh === 'quick') return;
    answer = message;
    floor = Floors.read(message.floor);
    if (failed && failed.change <= message.change && (message.mesh === 'own' || failed.mesh === 'quick')) failed = null;
    if (message.mesh === 'own') own = false;
    showAnswer();
  }

  function hearNeeded(message) {
    if (session && message.change === session.change) needed = message;
    showNeeded();
  }

  function hearFailed(message) {
    if (message.mesh === 'page') {
      turned.failed();
      showSaved();
      showWhy(get('save-why'), ['It could not be made: ' + message.why + '.']);
      return;
    }
    if (!session || message.change < session.change) return;
    failed = message;
    own = false;
    turned.failed();
    showState();
  }

  function hearRefused(message) {
    heard = Math.max(heard, message.seq);
    if (message.key === 'open') {
      showWhy(get('open-why'), message.why);
      if (get('start').hidden) choose(true);
    } else if (message.key === 'wish') {
      showWhy(get('wish-why'), message.why);
    } else if (!knobs.refuse(message.key, message.why)) {
      showWhy(get('wish-why'), message.why);
    }
    showState();
  }

  function showWhy(place, why) {
    place.textContent = why.join(' ');
    place.hidden = false;
  }

  // Whose numbers are on the page, in words; old ones are greyed until newer ones come.
  function showState() {
    if (!session) return;
    var fresh = isFresh(), state = get('state'), words = '', kind = '';
    var waits = Math.round((Date.now() - asked) / 1000), wait = waits >= 3 ? ' for ' + waits + ' s' : '';
    var stuck = failed && failed.change === session.change && heard >= sent && (failed.mesh === 'own' || !fresh);
    if (over) words = 'Numbers of the last bay that was solved.';
    else if (stuck && !fresh) { words = 'These values could not be solved: ' + failed.why + '. ' + (answer ? 'The greyed numbers are those of the values before.' : ''); kind = 'bad'; }
    else if (!fresh && answer) { words = 'Solving' + wait + '. The greyed numbers are those of the values before.'; kind = 'old'; }
    else if (!answer) { words = 'Getting ready' + wait + '.' + (waits >= 8 ? ' The first use compiles for about a minute, once.' : ''); kind = 'old'; }
    else if (stuck) { words = 'On this bay’s own mesh it ' + failedWords() + '. Shown: the quick mesh, heat within 4 %, ripple within 10 %.'; kind = 'bad'; }
    else if (answer.mesh === 'quick') words = 'Quick mesh: heat within 4 %, ripple within 10 %.' + (own ? ' Solving this bay’s own mesh' + wait + ' …' : ' This bay’s own mesh follows when you pause.');
    else words = 'Solved on this bay’s own mesh, ' + answer.cells.toLocaleString('en') + ' cells.';
    if (answer) words += ' Air: ' + answer.air + '.';
    if (answer && fresh && answer.beyond.length) words += ' Outside what the films learned: ' + answer.beyond.join('; ') + '.';
    if (state.dataset.words !== words) {
      state.dataset.words = words;
      state.replaceChildren(make('span', '', words));
      if (stuck) state.append(button('Try again', function () { failed = null; ask({ do: 'retry' }); }));
      if (own && fresh && answer.mesh === 'quick') state.append(button('Stop', function () { say({ do: 'cancel', what: 'own' }); }));
    }
    state.className = 'state ' + kind;
    document.body.classList.toggle('stale', !fresh);
    ['sight', 'cut', 'tells'].forEach(function (name) { get(name).setAttribute('aria-busy', String(!fresh)); });
  }

  function failedWords() { return /^was /.test(failed.why) ? failed.why : 'could not be solved: ' + failed.why; }

  function button(words, act) {
    var made = make('button', 'small', words);
    made.type = 'button';
    made.addEventListener('click', act);
    return made;
  }

  function showAnswer() {
    if (!answer) return;
    drawFloor();
    showSection();
    showNumbers();
    showLimits();
    showCautions();
    showState();
    showAir();
    tell();
  }

  function drawFloor() {
    var host = get('map'), canvas = host.querySelector('canvas') || host.appendChild(document.createElement('canvas'));
    var wide = Math.max(200, Math.floor(host.clientWidth));
    Floors.draw(canvas, floor, answer.room, answer.highest, wide);
    var bar = get('scale').querySelector('canvas') || get('scale').appendChild(document.createElement('canvas'));
    Floors.scale(bar, answer.room, [value('surface_trough_C'), value('surface_peak_C')], inch, Math.min(wide, 560), ink());
    host.setAttribute('aria-label', 'Floor map: warmest ' + text('surface_peak_C') + ', coolest ' + text('surface_trough_C') + ', mean ' + text('surface_mean_C') + '. Arrow keys read it.');
  }

  function found(key, of) { return (of || answer).numbers.find(function (one) { return one.key === key; }); }
  function value(key) { var one = found(key); return one ? one.value : NaN; }
  function text(key, of) { return pick(found(key, of)); }

  function showReading(spot) {
    var host = get('map'), cross = host.querySelector('.cross') || host.appendChild(make('span', 'cross'));
    cross.hidden = !spot;
    if (!spot) return;
    var canvas = host.querySelector('canvas');
    cross.style.left = spot.u * canvas.clientWidth + 'px';
    cross.style.top = spot.v * canvas.clientHeight + 'px';
    get('reading').replaceChildren(make('b', '', spot.celsius === null ? 'no floor' : degrees(spot.celsius)),
      document.createTextNode(' ' + long(spot.across) + ' across, ' + long(spot.along) + ' along' + (isFresh() ? '' : ' (values before)')));
  }

  var phone = matchMedia('(max-width:640px)');
  phone.addEventListener('change', function () { if (answer) showSection(); });

  function putDrawing(host, drawing) {
    var text = phone.matches && drawing.narrow || drawing.svg;
    var made = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
    host.replaceChildren(document.importNode(made, true));
  }

  function showSection() {
    ['section', 'warm'].forEach(function (name) {
      putDrawing(get(name), answer[name]);
      get(name + '-words').textContent = pick(answer[name]);
    });
  }

  var LARGE = [['heat_flux_up_W_m2', 'heat up'], ['surface_peak_C', 'warmest spot'], ['ripple_K', 'ripple, warmest less coolest']];

  function showNumbers() {
    var big = get('big');
    big.replaceChildren();
    LARGE.forEach(function (one) {
      var box = make('div', 'fact');
      box.append(make('b', '', text(one[0])), make('span', '', one[1]));
      big.append(box);
    });
    var body = get('numbers');
    body.replaceChildren();
    answer.numbers.forEach(function (one) {
      var row = make('tr');
      row.append(make('th', '', one.label), make('td', 'n', pick(one)));
      body.append(row);
    });
    var feet = get('feet');
    feet.replaceChildren();
    answer.feet.forEach(function (one) { feet.append(make('p', '', pick(one))); });
  }

  function showLimits() {
    var host = get('limits');
    host.replaceChildren();
    answer.limits.forEach(function (limit) {
      var row = make('li', limit.kept ? '' : 'broken'), bar = make('span', 'bar'), full = make('span', 'full');
      full.style.width = Math.min(100, Math.max(0, 100 * limit.used)) + '%';
      bar.append(full);
      var left = limit.kept ? pick(limit.left) + ' left' : 'BROKEN by ' + pick(limit.left);
      row.append(make('span', 'what', limit.what), make('span', 'left', left), bar, make('small', '', pick(limit.here) + ', at most ' + pick(limit.most)));
      row.title = limit.source;
      host.append(row);
    });
  }

  function showCautions() {
    var host = get('cautions'), broken = answer.cautions.filter(function (one) { return one.broken; }).length;
    get('minding-count').textContent = 'To mind: ' + answer.cautions.length + (broken ? ', of which ' + broken + ' against a rule' : '') + '; and where the limits come from';
    host.replaceChildren();
    answer.cautions.forEach(function (one) {
      var row = make('div', one.broken ? 'caution broken' : 'caution');
      row.append(make('b', '', one.subject), document.createTextNode(' ' + pick(one)), make('small', '', one.source));
      host.append(row);
    });
    var sources = make('div', 'caution');
    sources.append(make('b', '', 'Limits'));
    answer.limits.forEach(function (limit) { sources.append(make('small', '', limit.what + ', ' + pick(limit.most) + ': ' + limit.source)); });
    host.append(sources);
  }

  function showNeeded() {
    var place = get('needed'), here = needed && session && session.wish && needed.flux.si === session.wish.si;
    get('use').hidden = !(here && needed.water) || over;
    place.className = 'needed' + (here && needed.change === session.change && heard >= sent ? '' : ' waits');
    if (!session || !session.wish) place.textContent = 'Type a heat flux to see which water gives it.';
    else if (!here) place.textContent = 'Looking for the water …';
    else if (needed.why) place.textContent = 'No water gives that: ' + pick(needed.why) + '.';
    else {
      place.replaceChildren(document.createTextNode('needs water of '), make('b', '', pick(needed.water)), document.createTextNode(
        '; the floor’s warmest spot is then ' + pick(needed.peak) + (needed.broken.length ? '. That breaks: ' + needed.broken.join('; ') + '.' : ', within all limits.')));
    }
  }

  function showPins() {
    var host = get('pinned'), pins = session.pins;
    get('pins').hidden = !pins.length;
    host.replaceChildren();
    pins.forEach(function (pin) { host.append(pinCard(pin)); });
  }

  var PINNED = ['heat_flux_up_W_m2', 'surface_mean_C', 'surface_peak_C', 'surface_trough_C', 'ripple_K', 'share_down_percent'];

  function pinCard(pin) {
    var card = make('article', pin.current ? 'pinned-one current' : 'pinned-one');
    card.append(make('h3', '', pin.number + '. ' + (pick(pin.name) || 'this bay')));
    if (pin.answer) {
      var map = make('div', 'map'), canvas = make('canvas');
      map.append(canvas);
      card.append(map);
      requestAnimationFrame(function () { Floors.draw(canvas, Floors.read(pin.answer.floor), pin.answer.room, pin.answer.highest, Math.max(150, Math.floor(map.clientWidth))); });
      var table = make('table', 'numbers');
      PINNED.forEach(function (key) {
        var row = make('tr'), one = found(key, pin.answer);
        if (one) { row.append(make('th', '', one.label), make('td', 'n', pick(one))); table.append(row); }
      });
      var broken = pin.answer.limits.filter(function (limit) { return !limit.kept; });
      card.append(table, make('p', broken.length ? 'why' : 'note', broken.length ? 'BROKEN: ' + broken.map(function (one) { return one.what; }).join('; ') : 'All limits kept.'));
      card.append(make('p', 'note', pin.mesh === 'quick' ? 'Quick mesh.' : 'Own mesh.'));
    } else card.append(make('p', 'note', 'Its numbers come as soon as it is solved.'));
    var row = make('p');
    if (!pin.current) row.append(button('Back to this', function () { ask({ do: 'take', number: pin.number }); }), document.createTextNode(' '));
    row.append(button('Unpin', function () { say({ do: 'unpin', number: pin.number }); }));
    card.append(row);
    return card;
  }

  function hearAir(message) {
    air = message;
    if (air.state === 'there') airFloor = Floors.read(air.answer.floor);
    showAir();
  }

  function duration(seconds) {
    if (seconds < 90) return Math.max(1, Math.round(seconds)) + ' s';
    return seconds < 5400 ? Math.round(seconds / 60) + ' min' : (seconds / 3600).toFixed(1) + ' h';
  }

  function showAir() {
    if (!session) return;
    var state = get('air-state'), running = air.state === 'running', words = '';
    var mine = session.air_fresh;
    get('air-words').textContent = (answer ? 'For now: ' + answer.air + '. ' : '') + 'The flow itself can be computed in the background, in minutes to an hour or more; you can go on meanwhile.';
    get('flow').hidden = running || over;
    get('cancel').hidden = !running || over;
    get('air-bar').hidden = !running;
    get('air-bar').value = air.share || 0;
    if (running) {
      words = air.air_seconds === undefined ? 'Beginning …' : air.air_seconds.toFixed(0) + ' s of air followed; ' +
        (air.sure ? 'means within ' + air.error_percent.toFixed(1) + ' %, ' + air.wanted_percent.toFixed(1) + ' % are wanted; about ' : 'errors not known yet; at most ') + duration(air.left_s) + ' left.';
    }
    if (air.state === 'cancelled') words = 'The computed flow was cancelled.';
    if (air.state === 'failed') words = 'The flow could not be computed: ' + air.why + '.';
    if (air.state === 'there') words = 'Computed in ' + duration(air.answer.seconds) + '.';
    if (air.state !== 'none' && air.state !== 'cancelled' && !mine) words += ' It is of the bay before your last changes.';
    state.textContent = words;
    state.className = 'state' + (air.state === 'failed' ? ' bad' : '') + (air.state === 'there' && !mine ? ' old' : '');
    get('air-there').hidden = air.state !== 'there';
    get('air-there').classList.toggle('faded', air.state === 'there' && !mine);
    if (air.state === 'there') showAirAnswer(mine);
  }

  function showAirAnswer(mine) {
    var told = air.answer, map = get('air-map'), canvas = map.querySelector('canvas') || map.appendChild(document.createElement('canvas'));
    putDrawing(get('air-section'), told.warm);
    get('air-section-words').textContent = pick(told.warm);
    Floors.draw(canvas, airFloor, told.room, told.highest, Math.max(200, Math.floor(map.clientWidth)));
    var body = get('air-numbers');
    body.replaceChildren();
    PINNED.forEach(function (key) {
      var row = make('tr'), one = found(key, told);
      if (one) { row.append(make('th', '', one.label), make('td', 'n', pick(one)), make('td', 'n', mine && isFresh() ? text(key) : '–')); body.append(row); }
    });
  }

  function giveFile(message) {
    Parts.hand(message);
    showSaved();
  }

  function showSaved() {
    get('save-why').hidden = true;
    get('report').textContent = 'Save report';
    get('report').disabled = false;
  }

  function setUnits() {
    Parts.showUnits(inch);
    get('wish').placeholder = inch ? '20 Btu/(h*ft^2)' : '60 W/m²';
  }

  function flip(to) {
    inch = to;
    chosen = true;
    sessionStorage.setItem('units', inch ? 'ip' : 'si');
    setUnits();
    if (!session) return;
    showControls();
    get('wish').value = pick(session.wish);
    showDiffers();
    showPins();
    showNeeded();
    showAnswer();
  }

  on('undo', function () { ask({ do: 'undo' }); });
  on('redo', function () { ask({ do: 'redo' }); });
  on('again', function () { ask({ do: 'again' }); });
  on('pin', function () { say({ do: 'pin' }); });
  on('save', function () { say({ do: 'save' }); });
  on('report', function () { get('report').textContent = 'Writing …'; get('report').disabled = true; say({ do: 'report' }); });
  on('others', function () { choose(true); });
  on('back', function () { get('start').hidden = true; get('bay').hidden = false; showAnswer(); });
  on('si', function () { flip(false); });
  on('ip', function () { flip(true); });
  on('flow', function () { say({ do: 'flow' }); });
  on('cancel', function () { say({ do: 'cancel', what: 'flow' }); });
  on('use', function () { ask({ do: 'water', key: 'water.supply', text: inch ? needed.water.ip : needed.water.si }); });
  get('wish').addEventListener('change', function () {
    var typed = get('wish').value.trim();
    if (/^[\d.]+$/.test(typed)) typed += inch ? ' Btu/(h*ft^2)' : ' W/m^2';
    needed = null;
    say({ do: 'wish', text: typed });
  });
  get('controls').addEventListener('submit', function (event) { event.preventDefault(); });
  get('file').addEventListener('change', function () {
    var file = get('file').files[0];
    if (!file) return;
    if (file.size > 1e6) { showWhy(get('open-why'), [file.name + ' is larger than 1 MB; a case is a short text file.']); return; }
    file.text().then(function (read) { say({ do: 'open', name: file.name, text: read }); get('file').value = ''; });
  });
  document.addEventListener('keydown', function (event) {
    var typing = event.target.matches && event.target.matches('input[type=text]');
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z' || typing || over) return;
    event.preventDefault();
    ask({ do: event.shiftKey ? 'redo' : 'undo' });
  });
  window.addEventListener('resize', function () { if (session && answer) { drawFloor(); showPins(); showAir(); } });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', function () { if (answer) drawFloor(); });
  setInterval(function () { if (session && !over && (!isFresh() || own)) showState(); }, 1000);
})();
