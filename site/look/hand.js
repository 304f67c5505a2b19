/* Ticks and readings that survive a reload, the sieve of the front page, and saved copies for when
   there is no signal. Everything on a page works without this script. */
(function () {
  'use strict';
  function each(list, act) { Array.prototype.forEach.call(list, act); }

  var sheet = document.querySelector('[data-guide]');
  if (sheet) {
    var key = 'sheet:' + sheet.getAttribute('data-guide') + ':' + sheet.getAttribute('data-revision') + ':';
    var store = null;
    try { store = window.localStorage; store.getItem(key); } catch (refused) { store = null; }
    var remember = function (name, value) {
      try { if (value) store.setItem(key + name, value); else store.removeItem(key + name); } catch (full) { /* no harm done */ }
    };
    if (store) {
      each(sheet.querySelectorAll('[data-tick]'), function (box) {
        var name = box.getAttribute('data-tick');
        box.checked = store.getItem(key + name) === '1';
        box.addEventListener('change', function () { remember(name, box.checked ? '1' : ''); });
      });
      each(sheet.querySelectorAll('[data-note]'), function (field) {
        var name = field.getAttribute('data-note');
        field.value = store.getItem(key + name) || '';
        field.addEventListener('input', function () { remember(name, field.value); });
      });
    }
  }

  /* A drawing made larger shows its middle first, not an empty corner. */
  each(document.querySelectorAll('.drawing > input'), function (box) {
    box.addEventListener('change', function () {
      var pan = box.parentNode.querySelector('.pan');
      pan.scrollLeft = (pan.scrollWidth - pan.clientWidth) / 2;
      pan.scrollTop = (pan.scrollHeight - pan.clientHeight) / 2;
    });
  });

  /* Once a step is ticked, the way to the first that is not. */
  var next = document.querySelector('[data-next]');
  if (sheet && next) {
    var steps = sheet.querySelectorAll('[data-tick^="step-"]');
    var point = function () {
      var first = null, any = false;
      each(steps, function (box) { if (box.checked) any = true; else if (!first) first = box.getAttribute('data-tick'); });
      next.hidden = !any || !first;
      if (first) next.href = '#' + first;
      next.textContent = first ? next.getAttribute('data-next').replace('{number}', first.slice(5)) : '';
    };
    each(steps, function (box) { box.addEventListener('change', point); });
    point();
  }

  var sieve = document.querySelector('[data-sieve]');
  if (sieve) {
    var cards = sieve.parentNode.querySelectorAll('.card');
    var status = sieve.querySelector('[role=status]');
    var sift = function () {
      var shown = 0;
      each(cards, function (card) {
        var fits = true;
        each(sieve.querySelectorAll('select'), function (select) {
          var has = (card.getAttribute('data-' + select.name) || '').split(' ');
          if (select.value && has.indexOf(select.value) < 0) fits = false;
        });
        card.hidden = !fits;
        if (fits) shown++;
      });
      status.textContent = status.getAttribute('data-count').replace('{shown}', shown).replace('{all}', cards.length);
    };
    sieve.hidden = sieve.querySelector('form').hidden = false;
    sieve.addEventListener('change', sift);
    sieve.addEventListener('reset', function () { setTimeout(sift, 0); });
    sift();
  }

  if ('serviceWorker' in navigator && /^https?:$/.test(location.protocol)) {
    navigator.serviceWorker.register(document.body.getAttribute('data-root') + 'keep.js').catch(function () { /* works without */ });
  }
})();
