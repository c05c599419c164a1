'use strict';
(function () {
  var form = document.getElementById('asked'), text = document.getElementById('case'), controls = document.getElementById('controls');
  var answer = document.getElementById('answer'), busy = false, again = false, timer = 0, answers = 0;

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
      s.addEventListener('input', function (e) { e.stopPropagation(); field.value = s.value; ask(); });
      field.parentNode.appendChild(s);
      field.slider = s;
    });
  }

  function values() {
    var v = {};
    controls.querySelectorAll('[name^="set:"]').forEach(function (f) { v[f.name] = f.value; });
    return v;
  }

  // One request at a time; what changed meanwhile goes with the next.
  function ask() {
    if (busy) { again = true; return; }
    busy = true;
    var sent = new FormData(form), was = values(), sentText = text.value;
    fetch('/answer', { method: 'POST', body: new URLSearchParams(sent) }).then(function (r) {
      if (r.status === 429) { again = true; return new Promise(function (done) { setTimeout(done, 200); }); }
      if (!r.ok) { return r.text().then(function (t) { throw new Error(t); }); }
      return r.json().then(function (a) { show(a, was, sentText); });
    }).catch(function (e) {
      document.getElementById('status').textContent = 'no answer: ' + e.message;
    }).then(function () {
      busy = false;
      if (again) { again = false; ask(); }
    });
  }

  function show(a, was, sentText) {
    document.getElementById('problems').innerHTML = a.problems;
    document.body.classList.toggle('stale', a.problems !== '');
    if (text.value !== sentText) { again = true; return; } // edited meanwhile: the next answer knows better
    text.value = a.text;
    var feeder = document.getElementById('feeder');
    if (feeder && a.problems === '') { feeder.value = ''; }
    fields(a.controls, was);
    if (a.problems === '') {
      var open = {};
      answer.querySelectorAll('details[open] > summary').forEach(function (s) { open[s.textContent] = true; });
      var fresh = document.createElement('div');
      fresh.innerHTML = a.answer;
      fresh.querySelectorAll('.chart').forEach(function (c) { // charts stay and take new options: much quicker than new ones
        var mine = document.getElementById(c.id);
        if (mine) { mine.setAttribute('aria-label', c.getAttribute('aria-label')); c.replaceWith(mine); }
      });
      answer.replaceChildren.apply(answer, Array.prototype.slice.call(fresh.childNodes));
      answer.querySelectorAll('details > summary').forEach(function (s) { if (open[s.textContent]) { s.parentNode.open = true; } });
      window.meltloadDraw();
      document.getElementById('status').textContent = a.status;
      document.getElementById('took').textContent = 'Computed by the marching solver in ' + a.milliseconds.toFixed(0) + ' ms on this machine. Nothing leaves it.';
    } else {
      document.getElementById('status').textContent = '';
    }
    document.documentElement.dataset.answers = ++answers;
  }

  // New values into the fields, but never over what is being typed.
  function fields(markup, was) {
    var fresh = document.createElement('div');
    fresh.innerHTML = markup;
    var now = values(), focus = document.activeElement, id = focus && focus.id, slid = focus && focus.type === 'range' && focus.parentNode.querySelector('[name^="set:"]').id;
    fresh.querySelectorAll('[name^="set:"]').forEach(function (f) {
      if (f.name in now && now[f.name] !== was[f.name]) { f.value = now[f.name]; again = true; }
    });
    // A slider in the hand must stay the same element, so fields are replaced only where the list changed or a remark did.
    var same = Object.keys(now).join() === Array.prototype.map.call(fresh.querySelectorAll('[name^="set:"]'), function (f) { return f.name; }).join() &&
      controls.querySelectorAll('.wrong').length === 0 && fresh.querySelectorAll('.wrong').length === 0;
    if (same) {
      fresh.querySelectorAll('[name]').forEach(function (f) {
        var mine = form.elements.namedItem(f.name);
        if (mine !== focus || mine.value === was[f.name]) { mine.value = f.value; }
        if (mine.slider && mine.slider !== focus) { mine.slider.value = f.value; }
      });
      return;
    }
    controls.innerHTML = '';
    while (fresh.firstChild) { controls.appendChild(fresh.firstChild); }
    sliders();
    var back = document.getElementById(slid || id);
    if (back && controls.contains(back)) { (slid ? back.slider : back).focus(); }
  }

  form.addEventListener('input', function (e) {
    clearTimeout(timer);
    timer = setTimeout(ask, e.target === text ? 400 : 60);
  });
  form.addEventListener('submit', function (e) {
    if (e.submitter && e.submitter.id === 'save') { return; }
    e.preventDefault();
    ask();
  });
  sliders();
  document.documentElement.dataset.ready = '1';
})();
