'use strict';
(function () {
  var css = function (n) { return getComputedStyle(document.documentElement).getPropertyValue(n).trim(); };
  var drawn = [];
  function draw() {
    // A chart whose element stayed in the page is given its new options; others are made anew.
    var old = drawn;
    drawn = [];
    old.forEach(function (c) { if (!document.contains(c.getDom())) { c.dispose(); } });
    var fg = css('--fg'), muted = css('--muted'), line = css('--line'), card = css('--card');
    var colours = [1, 2, 3, 4, 5, 6, 7].map(function (i) { return css('--c' + i); });
    document.querySelectorAll('script.options').forEach(function (s) {
      var el = document.getElementById(s.dataset.for);
      var c = echarts.getInstanceByDom(el);
      var narrow = (c ? c.getWidth() : el.clientWidth) < 480;
      var o = JSON.parse(s.textContent);
      var also = o.also || {};
      delete o.also;
      o.color = colours;
      o.backgroundColor = 'transparent';
      o.textStyle = { color: fg, fontFamily: 'system-ui, "DejaVu Sans", sans-serif' };
      o.legend = Object.assign(o.legend || {}, { textStyle: { color: fg, fontSize: narrow ? 10 : 12 }, itemWidth: 34 });
      o.tooltip = Object.assign(o.tooltip || {}, { backgroundColor: card, textStyle: { color: fg }, valueFormatter: function (v) { return Array.isArray(v) ? v.map(three).join(', ') : three(v); } });
      ['xAxis', 'yAxis'].forEach(function (k) {
        [].concat(o[k] || []).forEach(function (a) {
          a.nameTextStyle = { color: fg };
          a.axisLabel = Object.assign(a.axisLabel || {}, { color: fg, fontSize: narrow ? 10 : 12 });
          a.axisLine = { lineStyle: { color: fg } };
          a.splitLine = { lineStyle: { color: line } };
        });
        second([].concat(o[k] || [])[0], also[k], k, o, muted, narrow);
      });
      if (narrow && o.grid) { [].concat(o.grid).forEach(function (g) { g.top = '130'; g.left = g.containLabel ? '4' : '54'; g.right = '14'; }); }
      (o.series || []).forEach(function (x) {
        if (x.markLine) { x.markLine.lineStyle = { color: fg, type: 'solid', width: 1 }; x.markLine.label = Object.assign(x.markLine.label || {}, { color: fg }); x.markLine.silent = true; }
        if (x.lineStyle && x.lineStyle.width < 0.01) { x.lineStyle.opacity = 0; }
      });
      // The element says in words what the chart shows; only the hatching of bars needs this.
      o.aria = { enabled: (o.series || []).some(function (x) { return x.type === 'bar'; }), label: { enabled: false }, decal: { show: true } };
      c = c || echarts.init(el, null, { renderer: 'svg' });
      c.setOption(o, { replaceMerge: ['series'] });
      drawn.push(c);
    });
    document.documentElement.dataset.charts = drawn.length;
  }
  // A second unit under the labels of an axis.
  function second(axis, also, which, o, muted, narrow) {
    if (!axis || !also) { return; }
    axis.name += ' (small: ' + also.unit + ')';
    axis.axisLabel.formatter = function (v) { return v + '\n{s|' + Number((v * also.by).toPrecision(2)) + '}'; };
    axis.axisLabel.rich = { s: { color: muted, fontSize: narrow ? 9 : 11 } };
    if (which === 'xAxis') {
      axis.nameGap = 42;
      [].concat(o.grid || []).forEach(function (g) { g.bottom = '64'; });
    }
  }
  function three(v) { return typeof v === 'number' ? Number(v.toPrecision(4)).toString() : v; }
  window.meltloadDraw = draw;
  draw();
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', draw);
  addEventListener('resize', function () { drawn.forEach(function (c) { c.resize({ width: 'auto', height: 'auto' }); }); });
  addEventListener('beforeprint', function () {
    document.querySelectorAll('details').forEach(function (d) { if (!d.open && !d.closest('footer') && d.querySelectorAll('tr').length < 45 && d.querySelectorAll('thead th').length < 15) { d.open = true; d.dataset.closed = '1'; } });
    draw();
    drawn.forEach(function (c) { // a drawing that scales to whatever paper there is
      var el = c.getDom(), svg = el.querySelector('svg');
      if (!svg) { return; }
      svg.setAttribute('viewBox', '0 0 ' + c.getWidth() + ' ' + c.getHeight());
      svg.style.cssText = 'position:static;width:100%;height:auto;max-width:' + 1.3 * c.getWidth() + 'px';
      for (var d = svg.parentNode; d !== el; d = d.parentNode) { d.style.cssText = 'width:100%;height:auto'; }
      el.style.height = 'auto';
    });
  });
  addEventListener('afterprint', function () {
    document.querySelectorAll('details[data-closed]').forEach(function (d) { d.open = false; delete d.dataset.closed; });
    drawn.forEach(function (c) { c.getDom().style.height = ''; c.dispose(); });
    drawn = [];
    draw();
  });
})();
