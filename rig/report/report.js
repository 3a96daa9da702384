"use strict";
// Draws each plot of the page from the numbers beside it. Names never pass through the plotting
// library: its labels are built by us and end up as text.
(function () {
  const dashes = [null, [7, 4], [2, 3], [9, 3, 2, 3]];

  // The library wants one table on common x values; each curve brings its own. Two points of one
  // curve on one x get a row each.
  function merged(curves) {
    const rows = new Map();
    curves.forEach((curve, c) => {
      const seen = new Map();
      curve.x.forEach((x, i) => {
        const nth = seen.get(x) || 0;
        seen.set(x, nth + 1);
        const key = x + "/" + nth;
        if (!rows.has(key)) rows.set(key, [x].concat(curves.map(() => null)));
        rows.get(key)[c + 1] = curve.y[i];
      });
    });
    return [...rows.values()].sort((a, b) => a[0] - b[0]);
  }

  function extent(data) {
    let low = Infinity, high = -Infinity;
    const take = (v) => { if (v !== null) { low = Math.min(low, v); high = Math.max(high, v); } };
    data.curves.forEach((c) => c.y.forEach((y, i) => { take(y - (c.U[i] || 0)); take(y + (c.U[i] || 0)); }));
    data.bands.forEach((b) => b.forEach(take));
    if (!(high > low)) { low -= 1; high += 1; }
    const margin = 0.08 * (high - low);
    return [low - margin, high + margin];
  }

  function shape(ctx, c, x, y) {
    const r = 3.2;
    ctx.beginPath();
    if (c % 3 === 0) ctx.arc(x, y, r, 0, 2 * Math.PI);
    else if (c % 3 === 1) ctx.rect(x - r + 0.4, y - r + 0.4, 2 * r - 0.8, 2 * r - 0.8);
    else { ctx.moveTo(x, y - r - 1); ctx.lineTo(x + r + 1, y); ctx.lineTo(x, y + r + 1); ctx.lineTo(x - r - 1, y); ctx.closePath(); }
    ctx.fill();
  }

  // Points with error bars of U. A curve's points arrive in the order of its numbers.
  function points(curve, c) {
    return function (e) {
      const ctx = e.drawingContext;
      ctx.fillStyle = ctx.strokeStyle = e.color;
      ctx.lineWidth = 1;
      const expanded = new Map();
      curve.x.forEach((x, i) => expanded.set(x + "/" + curve.y[i], curve.U[i] || 0));
      for (const p of e.points) {
        if (p.yval === null || isNaN(p.yval)) continue;
        const u = expanded.get(p.xval + "/" + p.yval) || 0;
        if (u > 0) {
          const top = e.dygraph.toDomYCoord(p.yval + u), bottom = e.dygraph.toDomYCoord(p.yval - u);
          ctx.beginPath();
          ctx.moveTo(p.canvasx, top);
          ctx.lineTo(p.canvasx, bottom);
          ctx.stroke();
        }
        shape(ctx, c, p.canvasx, p.canvasy);
      }
    };
  }

  function bands(data) {
    return function (ctx, area, g) {
      ctx.save();
      for (const [lower, upper] of data.bands) {
        const top = upper === null ? area.y : g.toDomYCoord(upper);
        const bottom = lower === null ? area.y + area.h : g.toDomYCoord(lower);
        ctx.fillStyle = "rgba(90, 159, 130, 0.16)";
        ctx.fillRect(area.x, top, area.w, bottom - top);
        ctx.strokeStyle = "#4c8a72";
        ctx.setLineDash([5, 4]);
        for (const edge of [upper === null ? null : top, lower === null ? null : bottom]) {
          if (edge === null) continue;
          ctx.beginPath();
          ctx.moveTo(area.x, edge);
          ctx.lineTo(area.x + area.w, edge);
          ctx.stroke();
        }
      }
      ctx.restore();
    };
  }

  // Zoomed to 0.02 V of a long stair, labels need more digits than at full view.
  function label(v, step, options, g, range) {
    const digits = Math.max(0, Math.min(8, 1 - Math.floor(Math.log10(Math.abs(range[1] - range[0]) / 5 || 1))));
    return String(Number(v.toFixed(digits)));
  }

  function labelled(axisOf) {
    return function (v, granularity, options, g) { return label(v, granularity, options, g, axisOf(g)); };
  }

  // Touch stays with the page: a finger on a plot must be able to scroll.
  function interaction() {
    const model = Object.assign({}, Dygraph.defaultInteractionModel);
    delete model.touchstart; delete model.touchmove; delete model.touchend;
    return model;
  }

  function draw(figure) {
    const data = JSON.parse(figure.querySelector('script[type="application/json"]').textContent);
    const rows = merged(data.curves);
    if (rows.length === 0) { figure.querySelector(".chart").hidden = true; return; }
    const keys = [...figure.querySelectorAll(".legend .key:not(.band)")];
    const names = keys.map((k) => k.parentElement.textContent.trim());
    const readout = figure.querySelector(".readout"), reset = figure.querySelector(".reset");
    const series = {};
    data.curves.forEach((curve, c) => {
      series["c" + c] = curve.line ? { strokeWidth: 2, strokePattern: dashes[c % dashes.length] }
                                   : { plotter: points(curve, c), strokeWidth: 0 };
    });
    const xs = rows.map((r) => r[0]);
    const pad = 0.02 * (xs[xs.length - 1] - xs[0]) || 1;
    const g = new Dygraph(figure.querySelector(".canvas"), rows, {
      labels: ["x"].concat(data.curves.map((_, c) => "c" + c)),
      colors: keys.map((k) => getComputedStyle(k).color),
      series: series,
      connectSeparatedPoints: true,
      legend: "never",
      dateWindow: [xs[0] - pad, xs[xs.length - 1] + pad],
      valueRange: extent(data),
      gridLineColor: "rgba(128, 134, 140, 0.25)",
      axisLineColor: "rgba(128, 134, 140, 0.8)",
      axes: { x: { axisLabelFormatter: labelled((h) => h.xAxisRange()), pixelsPerLabel: 60 },
              y: { axisLabelFormatter: labelled((h) => h.yAxisRange()), pixelsPerLabel: 34, axisLabelWidth: 52 } },
      highlightCircleSize: 4,
      interactionModel: interaction(),
      underlayCallback: bands(data),
      highlightCallback: function (event, x, found) {
        readout.textContent = Number(x.toPrecision(6)) + ": " +
          found.map((p) => names[Number(p.name.slice(1))] + " " + Number(p.yval.toPrecision(5))).join(", ");
      },
      unhighlightCallback: function () { readout.textContent = ""; },
    });
    const home = { dateWindow: [xs[0] - pad, xs[xs.length - 1] + pad], valueRange: extent(data) };
    const away = () => {
      const now = g.xAxisRange().concat(g.yAxisRange()), then = home.dateWindow.concat(home.valueRange);
      reset.disabled = now.every((v, i) => Math.abs(v - then[i]) <= 1e-9 * (1 + Math.abs(then[i])));
    };
    g.updateOptions({ drawCallback: away, zoomCallback: away });
    const goHome = () => { g.updateOptions(home); away(); };
    reset.addEventListener("click", goHome);
    figure.querySelector(".canvas").addEventListener("dblclick", () => setTimeout(goHome, 0));
  }

  document.querySelectorAll("figure.plot").forEach(draw);
  document.querySelectorAll("details.data").forEach((d) => d.removeAttribute("open"));
  // On paper a plot is shrunk as it was drawn: a canvas drawn anew at this moment would stay empty.
  const canvases = [...document.querySelectorAll(".canvas")];
  addEventListener("beforeprint", () => canvases.forEach((c) => {
    const width = c.clientWidth, height = c.clientHeight;
    c.style.width = width + "px";
    c.style.height = height + "px";
    c.style.setProperty("--shrink", Math.min(1, 320 / width));
  }));
  addEventListener("afterprint", () => canvases.forEach((c) => { c.style.width = c.style.height = ""; }));
})();
