'use strict';
// The solver is in this file: it is unpacked, asked for the case of the report, and answers on if it gives the report's
// numbers.
(function () {
  // How far the two may be apart, as a share: the processor that made the report may fuse a product and a sum into one
  // rounding, which WebAssembly does not. That moves the numbers in their thirteenth digit; a search that ends one step
  // earlier for it moves them by its tolerance. Another solver moves them by far more.
  var agree = 1e-6;
  var begin = JSON.parse(document.getElementById('begin').textContent), asleep = document.getElementById('asleep');
  if (typeof DecompressionStream !== 'function') { return; }
  function unpacked(id) {
    var packed = atob(document.getElementById(id).textContent.trim()), bytes = new Uint8Array(packed.length);
    for (var i = 0; i < bytes.length; i++) { bytes[i] = packed.charCodeAt(i); }
    return new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'));
  }
  var charts = new Response(unpacked('charts')).text().then(function (text) {
    var s = document.createElement('script');
    s.textContent = text; // the policy of the page has its hash
    document.body.appendChild(s);
    dispatchEvent(new Event('meltload-charts'));
  });
  if (typeof WebAssembly !== 'object') { return; }
  var go = new Go(), body = unpacked('module');
  function ask(query) { return JSON.parse(window.meltloadModule.answer(query)); }
  WebAssembly.instantiateStreaming(new Response(body, { headers: { 'Content-Type': 'application/wasm' } }), go.importObject).then(function (r) {
    go.run(r.instance);
    var wrong = window.meltloadModule.open(begin.name, begin.text);
    if (wrong !== '') { throw new Error(wrong); }
    var first = ask('');
    Object.keys(begin.numbers).forEach(function (k) {
      var a = begin.numbers[k], b = first.numbers[k];
      if (!(Math.abs(a - b) <= agree * Math.abs(a))) { throw new Error('its ' + k + ' is ' + b + ', the report says ' + a); }
    });
    return charts;
  }).then(function () {
    asleep.hidden = true;
    document.getElementById('asked').hidden = false;
    document.body.classList.add('awake');
    document.documentElement.dataset.awake = performance.now().toFixed(0);
    var question = function (query) { return Promise.resolve().then(function () { return ask(query); }); };
    question.rest = function () { return Promise.resolve().then(function () { return JSON.parse(window.meltloadModule.rest()); }); };
    window.meltloadWhatIf(question);
  }).catch(function (e) {
    asleep.textContent = 'The solver in this file cannot be used: ' + e.message + '. What stands below is the report as it was made.';
    document.documentElement.dataset.asleep = '1';
  });
})();
