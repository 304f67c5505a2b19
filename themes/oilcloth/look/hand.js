/* Ticks that survive a reload. Everything on the page works without this script. */
(function () {
  'use strict';
  var sheet = document.querySelector('[data-guide]');
  if (!sheet) return;
  var key = 'sheet:' + sheet.getAttribute('data-guide') + ':' + sheet.getAttribute('data-revision') + ':';
  var store;
  try { store = window.localStorage; store.getItem(key); } catch (refused) { return; }
  function each(list, act) { Array.prototype.forEach.call(list, act); }
  each(sheet.querySelectorAll('input[data-tick]'), function (box) {
    var name = key + box.getAttribute('data-tick');
    box.checked = store.getItem(name) === '1';
    box.addEventListener('change', function () {
      try {
        if (box.checked) store.setItem(name, '1'); else store.removeItem(name);
      } catch (full) { /* nothing is lost but the memory of a tick */ }
    });
  });
})();
