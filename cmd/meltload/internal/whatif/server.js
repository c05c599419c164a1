'use strict';
// The page of a server on this machine: it is asked over its own address.
window.meltloadWhatIf(function ask(query) {
  return fetch('/answer', { method: 'POST', body: query, headers: { 'Content-Type': 'application/x-www-form-urlencoded' } }).then(function (r) {
    if (r.status === 429) { return new Promise(function (done) { setTimeout(done, 200); }).then(function () { return ask(query); }); }
    if (!r.ok) { return r.text().then(function (t) { throw new Error(t); }); }
    return r.json();
  });
});
