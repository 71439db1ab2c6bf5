// The scene to turn: made when asked for, of the bay as it stands then; says so when the bay has changed since.
'use strict';

function makeTurned(get, say, change) {
  var shown = 0, asked = 0, air = false;

  function address(name) {
    return name + '?tab=' + encodeURIComponent(sessionStorage.getItem('tab')) + '&made=' + Date.now();
  }

  function words() {
    var busy = asked && asked === change();
    get('turn').disabled = Boolean(busy);
    get('turn').textContent = busy ? 'Making the scene …' : 'Turn it in three dimensions';
    if (get('turned').hidden) return;
    if (air) get('turned-words').textContent = 'The bay whose air was computed, with its streamlines.';
    else if (shown === change()) get('turned-words').textContent = 'The bay as it stands, on its own mesh.';
    else get('turned-words').textContent = 'The bay as it was before your last change; ask for the scene again to see it as it is.';
    get('scene').classList.toggle('faded', !air && shown !== change());
  }

  function open(name) {
    get('turned').hidden = false;
    get('scene').src = address(name);
    words();
    get('turned').scrollIntoView({ block: 'start' });
  }

  get('turn').addEventListener('click', function () { asked = change(); say({ do: 'turn' }); words(); });
  get('turn-air').addEventListener('click', function () { air = true; open('scene-air.html'); });
  get('turned-away').addEventListener('click', function () {
    get('scene').removeAttribute('src');
    get('turned').hidden = true;
    get('turn').focus();
  });
  return {
    words: words,
    failed: function () { asked = 0; words(); },
    hear: function (message) {
      if (message.change !== change()) return;
      air = false;
      asked = 0;
      shown = message.change;
      open(message.name);
    }
  };
}
