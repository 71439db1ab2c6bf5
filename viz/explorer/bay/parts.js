// What the pages of a bay and of a house do alike: finding and making elements, handing over a file, and their last words.
'use strict';

var Parts = {
  lost: 'The program has ended, so this page no longer answers. Start joistbay explore again.',

  get: function (name) { return document.getElementById(name); },

  make: function (kind, look, text) {
    var made = document.createElement(kind);
    if (look) made.className = look;
    if (text !== undefined) made.textContent = text;
    return made;
  },

  on: function (name, act) { Parts.get(name).addEventListener('click', act); },

  tooMany: function (message) { return 'There are ' + message.most + ' tabs already; close one and load this page again.'; },

  hand: function (message) {
    var link = Parts.make('a');
    link.href = URL.createObjectURL(new Blob([message.text], { type: message.type }));
    link.download = message.name;
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(link.href); }, 10000);
  },

  showUnits: function (inch) {
    document.documentElement.classList.toggle('inch', inch);
    Parts.get('si').setAttribute('aria-pressed', String(!inch));
    Parts.get('ip').setAttribute('aria-pressed', String(inch));
  }
};
