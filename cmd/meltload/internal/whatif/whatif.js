'use strict';
// The state of the page is what is changed from the start: a text of the case file if it was edited, the feeder that is
// taken, and the controls that were moved. It stands in the address, and undo and redo keep lists of it. Every question
// sends all of it, so that the answer depends on nothing else.
window.meltloadWhatIf = function (ask) {
  var id = function (n) { return document.getElementById(n); };
  var form = id('asked'), text = id('case'), controls = id('controls'), answer = id('answer'), feeder = id('feeder');
  var busy = false, again = false, timer = 0, answers = 0;
  var start = { text: text.defaultValue, set: {} };
  var now = { text: form.dataset.start ? null : text.defaultValue, feeder: '', set: {} };
  var past = [], future = [], lastKey = '', lastTime = 0;
  controls.querySelectorAll('[name^="set:"]').forEach(function (f) { start.set[f.name] = f.defaultValue === undefined ? f.value : f.defaultValue; });

  // change takes a new state; a row of changes to one field is one step back.
  function change(next, key) {
    var time = Date.now();
    if (key !== lastKey || time - lastTime > 1500 || key === '') { past.push(now); }
    lastKey = key;
    lastTime = time;
    future = [];
    now = next;
    if (now.text === start.text && form.dataset.start) { now.text = null; }
    if (now.text === null && now.feeder === '') {
      Object.keys(now.set).forEach(function (k) { if (now.set[k] === start.set[k]) { delete now.set[k]; } });
    }
    settle();
  }

  // The address is written when the hand rests: it takes a browser a millisecond or two, and some bear few a minute.
  function settle() {
    steps();
    request();
  }

  function step(from, to) {
    if (from.length === 0) { return; }
    to.push(now);
    now = from.pop();
    lastKey = '';
    settle();
  }

  function changed() { return now.text !== null || now.feeder !== '' || Object.keys(now.set).length > 0; }

  function steps() {
    id('undo').disabled = past.length === 0;
    id('redo').disabled = future.length === 0;
    id('again-start').disabled = !changed();
  }

  function copy(s) { return { text: s.text, feeder: s.feeder, set: Object.assign({}, s.set) }; }

  // moved is the state after one field was moved.
  function moved(field) {
    var next = copy(now);
    if (field === text) {
      return { text: text.value, feeder: '', set: {} };
    }
    if (field === feeder) {
      next.feeder = feeder.value;
      Object.keys(next.set).forEach(function (k) { if (k.indexOf('set:feeder.') === 0) { delete next.set[k]; } });
      return next;
    }
    next.set[field.name] = field.value;
    return next;
  }

  function query(s) {
    var q = new URLSearchParams();
    if (s.text !== null) { q.set('case', s.text); }
    if (s.feeder !== '') { q.set('feeder', s.feeder); }
    Object.keys(s.set).forEach(function (k) { q.set(k, s.set[k]); });
    return q.toString();
  }

  // The state in the address: #if: and the controls by their keys, the feeder, and an edited text, packed.
  var mark = '#if:';
  function save() {
    var saved = now, q = new URLSearchParams();
    if (now.feeder !== '') { q.set('feeder', now.feeder); }
    Object.keys(now.set).forEach(function (k) { q.set(k.slice(4), now.set[k]); });
    (now.text === null ? Promise.resolve('') : pack(now.text)).then(function (packed) {
      if (saved !== now) { return; }
      if (packed !== '') { q.set('case', packed); }
      var hash = changed() ? mark + q.toString() : '';
      if (location.hash !== hash) { history.replaceState(null, '', location.href.split('#')[0] + hash); }
    });
  }

  function load() {
    if (location.hash.indexOf(mark) !== 0) { return Promise.resolve(null); }
    var s = { text: null, feeder: '', set: {} }, packed = '';
    new URLSearchParams(location.hash.slice(mark.length)).forEach(function (v, k) {
      if (k === 'case') { packed = v; } else if (k === 'feeder') { s.feeder = v; } else { s.set['set:' + k] = v; }
    });
    return packed === '' ? Promise.resolve(s) : unpack(packed).then(function (t) { s.text = t; return s; }, function () {
      id('status').textContent = 'The address is damaged: the case file in it cannot be read.';
      return null;
    });
  }

  var most = 65536; // bytes of a case file
  function pack(t) {
    return new Response(new Blob([t]).stream().pipeThrough(new CompressionStream('deflate-raw'))).arrayBuffer().then(function (b) {
      return btoa(Array.prototype.map.call(new Uint8Array(b), function (c) { return String.fromCharCode(c); }).join('')).replace(/\+/g, '-').replace(/\//g, '_').replace(/=+$/, '');
    });
  }
  function unpack(t) {
    return new Promise(function (done, no) {
      var bytes = Uint8Array.from(atob(t.replace(/-/g, '+').replace(/_/g, '/')), function (c) { return c.charCodeAt(0); });
      var r = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate-raw')).getReader(), d = new TextDecoder(), out = '';
      (function next() {
        r.read().then(function (x) {
          if (x.done) { done(out); return; }
          out += d.decode(x.value, { stream: true });
          if (out.length > most) { r.cancel(); no(new Error('too long')); return; }
          next();
        }, no);
      })();
    });
  }

  // A slider beside each number that has one.
  function sliders() {
    controls.querySelectorAll('input[data-high]').forEach(function (field) {
      var s = document.createElement('input');
      s.type = 'range';
      s.min = field.dataset.low;
      s.max = field.dataset.high;
      s.step = field.dataset.step;
      s.value = field.value;
      s.setAttribute('aria-label', document.querySelector('label[for="' + field.id + '"]').textContent + ', slider');
      s.addEventListener('input', function (e) { e.stopPropagation(); field.value = s.value; change(moved(field), field.name); });
      field.parentNode.appendChild(s);
      field.slider = s;
    });
  }

  // One question at a time; what changed meanwhile is asked next.
  function request() {
    if (busy) { again = true; return; }
    busy = true;
    setTimeout(function () { // what else moves with it goes along
      var asked = now;
      again = false;
      ask(query(asked)).then(function (a) {
        show(a, asked);
        // The rest of an answer waits until what is known is painted, and is left out where a newer question waits.
        return a.more && painted().then(function () {
          return again || ask.rest().then(function (r) { show(r, asked); });
        });
      }).catch(function (e) {
        id('status').textContent = 'no answer: ' + e.message;
      }).then(function () {
        busy = false;
        if (again) { request(); } else { save(); }
      });
    }, 0);
  }

  // painted waits until the page is painted; a page that nobody sees is not.
  function painted() {
    return new Promise(function (done) {
      setTimeout(done, 200);
      requestAnimationFrame(function () { requestAnimationFrame(function () { setTimeout(done, 0); }); });
    });
  }

  // show puts an answer onto the page, or the rest of one: the parts that the range changes.
  function show(a, asked) {
    id('problems').innerHTML = a.problems;
    document.body.classList.toggle('stale', a.problems !== '');
    document.body.classList.toggle('changed', asked.text !== null || asked.feeder !== '' || Object.keys(asked.set).length > 0);
    if (asked === now && !a.part) { // else the next answer knows better
      if ((document.activeElement !== text || text.value !== asked.text) && text.value !== a.text) { text.value = a.text; }
      if (feeder) { feeder.value = asked.feeder; }
      fields(a.controls);
    }
    if (a.problems === '') {
      var fresh = document.createElement('div');
      fresh.innerHTML = a.answer;
      if (a.part) {
        list(fresh.children).forEach(function (n) {
          list(answer.children).forEach(function (m) { if (same(m, n)) { renew(m, n); } });
        });
      } else {
        renewAll(answer, fresh);
        window.meltloadDraw(answer);
      }
      id('status').textContent = a.status;
      id('took').textContent = 'Computed by the marching solver in ' + a.milliseconds.toFixed(0) + ' ms on this machine. Nothing leaves it.';
    } else {
      id('status').textContent = '';
    }
    var seen = document.documentElement.dataset;
    if (!a.part) { seen.shown = Number(seen.shown || 0) + 1; }
    if (!a.more) { seen.answers = ++answers; }
  }

  // What stays is kept and what differs is changed in its place: the browser lays out and paints no more than that, and
  // what is folded open, focused or drawn stays so.
  function list(nodes) { return Array.prototype.slice.call(nodes); }
  function same(m, n) {
    return m.nodeName === n.nodeName && m.id === n.id && (m.nodeType !== 1 || m.classList[0] === n.classList[0]);
  }
  function renewAll(old, fresh) {
    var at = old.firstChild, gone;
    list(fresh.childNodes).forEach(function (n) {
      var m = at;
      while (m && !same(m, n)) { m = m.nextSibling; }
      if (!m) { old.insertBefore(n, at); return; }
      while (at !== m) { gone = at; at = at.nextSibling; gone.remove(); }
      at = m.nextSibling;
      renew(m, n);
    });
    while (at) { gone = at; at = at.nextSibling; gone.remove(); }
  }
  function renew(m, n) {
    if (m.nodeType !== 1) {
      if (m.data !== n.data) { m.data = n.data; }
      return;
    }
    if (m.isEqualNode(n)) { return; }
    var chart = m.classList.contains('chart'); // what is drawn in it is the chart library's
    list(n.attributes).forEach(function (a) { if (m.getAttribute(a.name) !== a.value) { m.setAttribute(a.name, a.value); } });
    if (chart) { return; }
    list(m.attributes).forEach(function (a) { if (!n.hasAttribute(a.name) && a.name !== 'open') { m.removeAttribute(a.name); } });
    renewAll(m, n);
  }

  // New values into the fields, but never over what is being typed.
  function fields(markup) {
    var fresh = document.createElement('div');
    fresh.innerHTML = markup;
    var mine = controls.querySelectorAll('[name^="set:"]'), theirs = fresh.querySelectorAll('[name^="set:"]');
    var focus = document.activeElement, slid = focus && focus.type === 'range' && controls.contains(focus);
    var named = slid ? focus.parentNode.querySelector('[name^="set:"]').id : focus && focus.id;
    var names = function (l) { return list(l).map(function (f) { return f.name; }).join(); };
    // A slider in the hand must stay the same element, so fields are replaced only where the list changed or a remark did.
    if (names(mine) === names(theirs) && !controls.querySelector('.wrong') && !fresh.querySelector('.wrong')) {
      theirs.forEach(function (f, i) {
        var m = mine[i];
        if (!(m === focus && m.name === lastKey)) { m.value = f.value; }
        if (m.slider && m.slider !== focus) { m.slider.value = f.value; }
      });
      return;
    }
    controls.replaceChildren.apply(controls, Array.prototype.slice.call(fresh.childNodes));
    sliders();
    var back = id(named);
    if (back && controls.contains(back)) { (slid && back.slider || back).focus(); }
  }

  form.addEventListener('input', function (e) {
    var field = e.target;
    clearTimeout(timer);
    timer = setTimeout(function () { change(moved(field), field.name); }, field === text ? 400 : 60);
  });
  form.addEventListener('submit', function (e) {
    e.preventDefault();
    if (e.submitter && e.submitter.id === 'save') {
      var a = document.createElement('a');
      a.href = URL.createObjectURL(new Blob([text.value], { type: 'application/toml' }));
      a.download = 'what-if.toml';
      a.click();
      setTimeout(function () { URL.revokeObjectURL(a.href); }, 1000);
      return;
    }
    request();
  });
  id('undo').addEventListener('click', function () { step(past, future); });
  id('redo').addEventListener('click', function () { step(future, past); });
  id('again-start').addEventListener('click', function () { change({ text: form.dataset.start ? null : start.text, feeder: '', set: {} }, ''); });
  addEventListener('keydown', function (e) {
    if (!(e.ctrlKey || e.metaKey) || e.altKey || document.activeElement === text) { return; } // the text has its own undo
    var k = e.key.toLowerCase();
    if (k === 'z' || k === 'y') {
      e.preventDefault();
      if (k === 'y' || e.shiftKey) { step(future, past); } else { step(past, future); }
    }
  });
  addEventListener('hashchange', function () {
    load().then(function (s) {
      if (s === null) { save(); } else if (query(s) !== query(now)) { change(s, ''); }
    });
  });

  document.querySelectorAll('.steps').forEach(function (e) { e.hidden = false; });
  sliders();
  load().then(function (s) {
    if (s !== null) { now = s; steps(); request(); }
    document.documentElement.dataset.ready = '1';
  });
};
