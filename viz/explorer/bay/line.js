// The line to the program: messages both ways, numbered, and taken up again after a reload.
'use strict';

function openLine(heard, lost) {
  var line = null, seq = 0, tries = 0;

  function tabName(fresh) {
    var name = fresh ? null : sessionStorage.getItem('tab');
    if (!name) {
      name = crypto.randomUUID();
      sessionStorage.setItem('tab', name);
    }
    return name;
  }

  function connect(fresh) {
    var home = location.href.split(/[?#]/)[0].replace(/^http/, 'ws');
    line = new WebSocket(home + 'talk?tab=' + encodeURIComponent(tabName(fresh)));
    line.onmessage = function (event) {
      var message = JSON.parse(event.data);
      if (message.kind === 'full' && message.again) {
        line.onclose = null;
        connect(true);  // this tab was made as a copy of another, which has the name already
        return;
      }
      tries = 0;
      heard(message);
    };
    line.onclose = function () {
      tries += 1;
      if (tries > 3) lost();
      else setTimeout(function () { connect(false); }, 300 * tries);
    };
  }

  connect(false);
  return {
    say: function (message) {
      seq += 1;
      message.seq = seq;
      if (line && line.readyState === WebSocket.OPEN) line.send(JSON.stringify(message));
      return seq;
    }
  };
}
