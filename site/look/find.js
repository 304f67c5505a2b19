/* The search page: looks words up in an index made ahead of time. Nothing is sent anywhere. */
(function () {
  'use strict';
  var form = document.querySelector('[data-find]');
  var data = self.findIndex;
  if (!form || !data) return;
  var field = form.querySelector('input');
  var status = form.querySelector('[role=status]');
  var list = document.querySelector('[data-hits]');
  var root = document.body.getAttribute('data-root');
  var known = Object.keys(data.words).sort();
  form.hidden = false;

  function fold(text) {
    return text.toLowerCase().replace(/ß/g, 'ss').normalize('NFD').replace(/[\u0300-\u036f]/g, '');
  }
  function split(text) {
    return fold(text).split(/[^\p{L}\p{N}]+/u).filter(function (word) { return word.length > 1 || /^[0-9]$/.test(word); });
  }
  function firstAt(word) {
    var low = 0, high = known.length;
    while (low < high) { var mid = (low + high) >> 1; if (known[mid] < word) low = mid + 1; else high = mid; }
    return low;
  }
  /* Whether one letter changed, missing, added or swapped makes a of b. */
  function near(a, b) {
    if (Math.abs(a.length - b.length) > 1) return false;
    var i = 0;
    while (i < a.length && a[i] === b[i]) i++;
    var x = a.slice(i), y = b.slice(i);
    return x.slice(1) === y.slice(1) || x === y.slice(1) || x.slice(1) === y ||
      (x.length > 1 && x[0] === y[1] && x[1] === y[0] && x.slice(2) === y.slice(2));
  }
  function spotsOf(word) {
    var scores = {}, i = firstAt(word), any = false;
    function take(at, factor) {
      data.words[known[at]].forEach(function (n) {
        var spot = n >> 2, score = (n & 3) * factor;
        if (!(scores[spot] >= score)) scores[spot] = score;
      });
      any = true;
    }
    for (; i < known.length && known[i].indexOf(word) === 0; i++) take(i, known[i] === word ? 2 : 1);
    if (!any && word.length > 3) {
      for (i = 0; i < known.length; i++) if (near(word, known[i])) take(i, 0.5);
    }
    return scores;
  }
  function show() {
    var words = split(field.value), hits = [];
    list.textContent = '';
    status.textContent = '';
    if (!words.length) return;
    var each = words.map(spotsOf);
    Object.keys(each[0]).forEach(function (spot) {
      var score = 0;
      for (var i = 0; i < each.length; i++) {
        if (!(spot in each[i])) return;
        score += each[i][spot];
      }
      hits.push([score, +spot]);
    });
    hits.sort(function (a, b) { return b[0] - a[0] || a[1] - b[1]; });
    status.textContent = hits.length ? status.getAttribute('data-some').replace('{count}', hits.length) : status.getAttribute('data-none');
    var groups = {}, order = [];
    hits.forEach(function (hit) {
      var page = data.spots[hit[1]][1];
      if (!groups[page]) { groups[page] = []; order.push(page); }
      groups[page].push(data.spots[hit[1]]);
    });
    order.slice(0, 20).forEach(function (page) {
      var group = make(list, 'li');
      make(group, 'h2', page);
      var inner = make(group, 'ul');
      groups[page].slice(0, 6).forEach(function (spot) {
        var item = make(inner, 'li');
        make(item, 'a', spot[2]).href = root + spot[0];
        make(item, 'br');
        make(item, 'span', spot[3]).className = 'facts';
      });
    });
  }
  function make(parent, kind, text) {
    var made = document.createElement(kind);
    if (text) made.textContent = text;
    parent.appendChild(made);
    return made;
  }
  field.addEventListener('input', show);
  form.addEventListener('submit', function (event) { event.preventDefault(); show(); });
  var asked = new URLSearchParams(location.search).get('q');
  if (asked) field.value = asked;
  show();
})();
