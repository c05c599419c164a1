'use strict';
(function () {
  var css = function (n) { return getComputedStyle(document.documentElement).getPropertyValue(n).trim(); };
  var drawn = [];
  var look = null; // the colours of the page as they are now, null where they may have changed
  // Which charts are near the window. One that is drawn and is not waits until the hand rests, or until it comes near.
  var near = typeof IntersectionObserver === 'function' && new IntersectionObserver(function (list) {
    list.forEach(function (e) { e.target.away = !e.isIntersecting; });
    if (late && list.some(function (e) { return e.isIntersecting; })) { draw(document); }
  }, { rootMargin: '200px' });
  var late = 0, rest = 300; // milliseconds
  // draw draws the charts of a part of the page, or with all those too that are away; those of elements that are not
  // shown wait.
  function draw(root, all) {
    // A chart whose element stayed in the page is given its new options; others are made anew.
    drawn = drawn.filter(function (c) { if (document.contains(c.getDom())) { return true; } if (near) { near.unobserve(c.getDom()); } c.dispose(); return false; });
    look = look || {
      fg: css('--fg'), muted: css('--muted'), line: css('--line'), card: css('--card'),
      colours: [1, 2, 3, 4, 5, 6, 7].map(function (i) { return css('--c' + i); })
    };
    var fg = look.fg, muted = look.muted, line = look.line, card = look.card, colours = look.colours;
    root.querySelectorAll('script.options').forEach(function (s) {
      var el = document.getElementById(s.dataset.for), c = echarts.getInstanceByDom(el);
      if (c && c.drawnIn === look && c.drawnFrom === s.textContent) { return; }
      if (c && el.away && !all) {
        clearTimeout(late);
        late = setTimeout(function () { late = 0; draw(document, true); }, rest);
        return;
      }
      if (!c && !el.offsetParent) { return; }
      var rows = Number(el.dataset.rows);
      if (rows) { el.style.height = (6.5 + 1.9 * rows) + 'rem'; }
      var wide = c && c.getWidth() || el.clientWidth, narrow = wide < 480, size = narrow ? 10 : 12;
      var o = JSON.parse(s.textContent);
      o.color = colours;
      o.backgroundColor = 'transparent';
      o.textStyle = { color: fg, fontFamily: 'system-ui, "DejaVu Sans", sans-serif' };
      o.tooltip = Object.assign(o.tooltip || {}, { backgroundColor: card, textStyle: { color: fg }, valueFormatter: function (v) { return Array.isArray(v) ? v.map(three).join(', ') : three(v); } });
      ['xAxis', 'yAxis'].forEach(function (k) {
        [].concat(o[k]).forEach(function (a) {
          a.nameTextStyle = { color: a.second ? muted : fg, fontSize: size };
          a.axisLabel = Object.assign(a.axisLabel || {}, { color: a.second ? muted : fg, fontSize: size, lineHeight: size + 3, formatter: a.type === 'value' ? three : undefined });
          if (a.type === 'category' && k === 'yAxis') { Object.assign(a.axisLabel, { width: Math.round(wide * 0.36), overflow: 'break' }); }
          if (a.type === 'category' && k === 'xAxis') { Object.assign(a.axisLabel, { width: Math.round(0.8 * wide / a.data.length), overflow: 'break' }); }
          a.axisLine = Object.assign(a.axisLine || {}, { lineStyle: { color: a.second ? muted : fg } });
          a.splitLine = Object.assign(a.splitLine || {}, { lineStyle: { color: line } });
        });
      });
      if (narrow) { slim(o); }
      (o.series || []).forEach(function (x) {
        if (x.markLine) { x.markLine.lineStyle = { color: fg, type: 'solid', width: 1 }; x.markLine.label = Object.assign(x.markLine.label || {}, { color: fg, fontSize: size }); x.markLine.silent = true; }
        if (x.lineStyle && x.lineStyle.width < 0.01) { x.lineStyle.opacity = 0; }
        if (x.lineStyle && x.lineStyle.color === '@whisker') { x.lineStyle.color = fg; x.silent = true; x.z = 1; }
      });
      // The element says in words what the chart shows; only the hatching of bars needs this.
      o.aria = { enabled: (o.series || []).some(function (x) { return x.type === 'bar'; }), label: { enabled: false }, decal: { show: true } };
      if (!c) {
        c = echarts.init(el, null, { renderer: 'svg' });
        if (near) { near.observe(el); }
      }
      // The same curves with other numbers go into the parts that are there, which is much quicker.
      (o.series || []).forEach(function (x, i) { x.id = 's' + i; });
      var parts = JSON.stringify([(o.series || []).map(function (x) { var l = x.lineStyle || {}; return [x.type, x.symbol, l.type, l.width, l.color, !!x.markLine, x.yAxisIndex]; }), [].concat(o.xAxis).length, [].concat(o.yAxis).length]);
      if (el.dataset.parts === parts) { c.setOption(o); } else { c.setOption(o, { replaceMerge: ['series', 'xAxis', 'yAxis'] }); }
      el.dataset.parts = parts;
      c.drawnIn = look;
      c.drawnFrom = s.textContent;
      if (drawn.indexOf(c) < 0) { drawn.push(c); }
    });
    document.documentElement.dataset.charts = drawn.length;
  }
  // Little room: closer margins; three axes of values are one too many, so the second unit of the left one goes.
  function slim(o) {
    var g = o.grid, ys = [].concat(o.yAxis);
    g.left = g.containLabel ? 2 : 46;
    ys[0].nameGap = 32;
    if (ys.length === 3) { ys[1].show = false; ys[2].offset = 0; g.right = 46; ys[2].nameGap = 32; }
    else if (ys.length === 2) { g.right = 42; ys[1].nameGap = 30; }
    else { g.right = 12; }
  }
  function three(v) { return typeof v === 'number' ? Number(v.toPrecision(4)).toString() : v; }
  // A click on a heading sorts its table: numbers the highest first, texts from A, a second click the other way. What is not known stays last.
  function sortable(root) {
    root.querySelectorAll('table.sort').forEach(function (t) {
      t.querySelectorAll('thead th').forEach(function (th, j) {
        if (th.firstElementChild) { return; }
        var b = document.createElement('button');
        b.type = 'button';
        b.textContent = th.textContent;
        th.textContent = '';
        th.appendChild(b);
        b.addEventListener('click', function () {
          var number = th.classList.contains('n');
          var down = th.getAttribute('aria-sort') ? th.getAttribute('aria-sort') === 'ascending' : number;
          t.querySelectorAll('thead th').forEach(function (x) { x.removeAttribute('aria-sort'); });
          th.setAttribute('aria-sort', down ? 'descending' : 'ascending');
          var body = t.tBodies[0];
          var key = function (r) { var c = r.cells[j]; return number ? c.dataset.v : c.textContent; };
          Array.prototype.slice.call(body.rows).map(function (r, i) { return { r: r, i: i, k: key(r) }; }).sort(function (a, b) {
            var none = function (k) { return k === '' || k === undefined || k === '–'; };
            if (none(a.k) || none(b.k)) { return none(a.k) - none(b.k) || a.i - b.i; }
            var d = number ? Number(a.k) - Number(b.k) : a.k.localeCompare(b.k);
            return (down ? -d : d) || a.i - b.i;
          }).forEach(function (x) { body.appendChild(x.r); });
        });
      });
    });
  }
  window.meltloadDraw = function (root) { draw(root); sortable(root); };
  sortable(document);
  // The chart library may be packed: until it is there, and without it, the drawings of the page stand.
  function begin() {
    document.documentElement.classList.add('scripted');
    draw(document);
  }
  if (window.echarts) { begin(); } else { addEventListener('meltload-charts', begin, { once: true }); }
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', function () { look = null; draw(document, true); });
  addEventListener('resize', function () { drawn.forEach(function (c) { if (c.getDom().clientWidth) { c.resize({ width: 'auto', height: 'auto' }); } }); });
  // Paper shows the drawings of the page itself, live charts without one in the colours of paper, and the tables that
  // are not too long.
  function undrawn() {
    return Array.prototype.filter.call(document.querySelectorAll('.block:has(.chart):not(:has(.static))'), function (b) { return b.offsetParent; });
  }
  addEventListener('beforeprint', function () {
    document.documentElement.classList.add('paper');
    look = null;
    undrawn().forEach(function (b) { draw(b, true); echarts.getInstanceByDom(b.querySelector('.chart')).resize({ width: 640 }); });
    document.querySelectorAll('details').forEach(function (d) { if (!d.open && !d.closest('footer') && d.querySelectorAll('tr').length < 45 && d.querySelectorAll('thead th').length < 15) { d.open = true; d.dataset.closed = '1'; } });
  });
  addEventListener('afterprint', function () {
    document.documentElement.classList.remove('paper');
    look = null;
    undrawn().forEach(function (b) { draw(b, true); echarts.getInstanceByDom(b.querySelector('.chart')).resize({ width: 'auto' }); });
    document.querySelectorAll('details[data-closed]').forEach(function (d) { d.open = false; delete d.dataset.closed; });
  });
})();
