/* Profiles: depth and tone along a run, as small drawings. */
"use strict";
(function (W) {
  var WIDE = 320, HIGH = 120, LEFT = 44, RIGHT = 8, TOP = 10, BOTTOM = 22;

  function scale(low, high, from, to) {
    var span = high - low || 1;
    return function (v) { return from + (v - low) / span * (to - from); };
  }
  function path(xs, ys, x, y) {
    var text = "", pen = false;
    xs.forEach(function (v, i) {
      if (!W.isNumber(v) || !W.isNumber(ys[i])) { pen = false; return; }
      text += (pen ? "L" : "M") + x(v).toFixed(1) + " " + y(ys[i]).toFixed(1);
      pen = true;
    });
    return text;
  }
  function numbers(list) { return (list || []).filter(W.isNumber); }

  function frame(label, x, y, ticks, ends, children) {
    return W.el("figure", { class: "wm-profile" },
      W.el("figcaption", {}, label),
      W.el("svg", { viewBox: "0 0 " + WIDE + " " + HIGH, role: "img", "aria-label": label },
        ticks.map(function (t) {
          return [W.el("line", { class: "wm-grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(t[0]), y2: y(t[0]) }),
            W.el("text", { class: "wm-axis", x: LEFT - 5, y: y(t[0]) + 3.5, "text-anchor": "end" }, t[1])];
        }),
        children,
        W.el("text", { class: "wm-axis", x: LEFT, y: HIGH - 6 }, W.distance(ends[0])),
        W.el("text", { class: "wm-axis", x: WIDE - RIGHT, y: HIGH - 6, "text-anchor": "end" },
          W.distance(ends[1]))));
  }

  /* Depth below ground: the curve, its band, the readings, the cover limit, and where you are. */
  W.depthProfile = function (site, run, chainage) {
    var curve = W.own(site.profiles.depth, run);
    var readings = W.readings(site, run);
    if (!curve && readings.length < 2) return null;
    var xs = curve ? curve[0] : [], ds = curve ? curve[1] : [], ss = curve ? curve[2] : [];
    var z = W.normalQuantile(site.facts.confidence || 0.95);
    var upper = ds.map(function (d, i) { return d === null ? null : Math.max(0, d - z * (ss[i] || 0)); });
    var lower = ds.map(function (d, i) { return d === null ? null : d + z * (ss[i] || 0); });
    var along = numbers(xs).concat(readings.map(function (r) { return r.chainage_m; }));
    var deep = Math.max.apply(null, numbers(lower).concat(
      readings.map(function (r) { return r.depth_m; }), [site.facts.min_cover_m])) * 1.08;
    var x = scale(Math.min.apply(null, along), Math.max.apply(null, along), LEFT, WIDE - RIGHT);
    var y = scale(0, deep, TOP, HIGH - BOTTOM);
    var step = W.unit === "m" ? (deep > 0.8 ? 0.4 : 0.2) : (deep > 0.7 ? 0.3048 : 0.1524);
    var ticks = [];
    for (var t = 0; t <= deep && ticks.length < 9; t += step) {
      ticks.push([t, t === 0 ? "ground" : W.depth(t)]);
    }
    var band = path(xs, upper, x, y);
    var back = path(xs.slice().reverse(), lower.slice().reverse(), x, y).replace(/^M/, "L");
    return frame("Depth along wire " + W.short(run, 40), x, y, ticks,
      [Math.min.apply(null, along), Math.max.apply(null, along)], [
        band && back && band.lastIndexOf("M") === 0
          ? W.el("path", { class: "wm-band", d: band + back + "z" }) : null,
        W.el("line", { class: "wm-limit", x1: LEFT, x2: WIDE - RIGHT,
          y1: y(site.facts.min_cover_m), y2: y(site.facts.min_cover_m) }),
        W.el("path", { class: "wm-curve", d: path(xs, ds, x, y) }),
        readings.map(function (r) {
          var reach = z * (r.depth_sigma_m || 0);
          return [W.el("line", { class: "wm-whisker", x1: x(r.chainage_m), x2: x(r.chainage_m),
            y1: y(Math.max(0, r.depth_m - reach)), y2: y(Math.min(deep, r.depth_m + reach)) }),
          W.el("circle", { class: "wm-reading", cx: x(r.chainage_m), cy: y(r.depth_m), r: 3 })];
        }),
        W.isNumber(chainage) ? W.el("line", { class: "wm-here", x1: x(chainage), x2: x(chainage),
          y1: TOP - 4, y2: HIGH - BOTTOM }) : null,
      ]);
  };

  W.readings = function (site, run) {
    var layer = site.layers.depth_readings;
    if (!layer) return [];
    layer.load();
    return layer.features.map(function (f) { return f.properties; }).filter(function (p) {
      return p.run === run && W.isNumber(p.chainage_m) && W.isNumber(p.depth_m);
    });
  };

  /* Relative current along the wire, and the model that explains it. */
  W.toneProfile = function (site, run, chainage) {
    var tone = W.own(site.profiles.tone, run);
    if (!tone || numbers(tone[1]).length < 3) return null;
    var high = Math.max.apply(null, numbers(tone[1]).concat(numbers(tone[2])));
    var along = numbers(tone[0]);
    var x = scale(Math.min.apply(null, along), Math.max.apply(null, along), LEFT, WIDE - RIGHT);
    var y = scale(high * 1.05, 0, TOP, HIGH - BOTTOM);
    var limits = [Math.min.apply(null, along), Math.max.apply(null, along)];
    return frame("Tone current along wire " + W.short(run, 40), x, y,
      [[0, "none"], [high, "most"]], limits, [
        tone[0].map(function (c, i) {
          return W.isNumber(tone[1][i])
            ? W.el("circle", { class: "wm-reading", cx: x(c), cy: y(tone[1][i]), r: 2.2 }) : null;
        }),
        W.el("path", { class: "wm-curve", d: path(tone[0], tone[2], x, y) }),
        W.isNumber(chainage) ? W.el("line", { class: "wm-here", x1: x(chainage), x2: x(chainage),
          y1: TOP - 4, y2: HIGH - BOTTOM }) : null,
      ]);
  };
})(wiremap);
