/* Shapes: point symbols on the map, wires with their lanes, and small drawings for lists. */
"use strict";
(function (W) {
  var facts = W.read("data-site", {});

  W.outline = function (symbol, x, y, half) {
    var corners = W.own(facts.symbols, symbol) || [];
    if (!corners.length) {
      return "M" + (x - half) + " " + y + "a" + half + " " + half + " 0 1 0 " + 2 * half + " 0" +
        "a" + half + " " + half + " 0 1 0 " + -2 * half + " 0z";
    }
    return "M" + corners.map(function (c) {
      return (x + c[0] * half).toFixed(1) + " " + (y + c[1] * half).toFixed(1);
    }).join("L") + "z";
  };

  L.SVG.include({
    _wiremapSymbol: function (mark) {
      var p = mark._point;
      this._setPath(mark, W.outline(mark.options.symbol, p.x, p.y, mark._radius));
    },
  });
  L.Canvas.include({
    _wiremapSymbol: function (mark) {
      if (!this._drawing || mark._empty()) return;
      var path = new Path2D(W.outline(mark.options.symbol, mark._point.x, mark._point.y,
        mark._radius));
      var options = mark.options;
      this._ctx.globalAlpha = options.fillOpacity;
      this._ctx.fillStyle = options.fillColor || options.color;
      if (options.fill) this._ctx.fill(path);
      this._ctx.globalAlpha = options.opacity;
      this._ctx.lineWidth = options.weight;
      this._ctx.strokeStyle = options.color;
      this._ctx.stroke(path);
    },
  });
  W.Mark = L.CircleMarker.extend({
    _updatePath: function () { this._renderer._wiremapSymbol(this); },
    _project: function () {
      this._radius = this.options.radius * W.markScale(this._map.getZoom());
      L.CircleMarker.prototype._project.call(this);
    },
  });

  /* Symbols are drawn smaller when the whole of a large property is in sight. */
  W.markScale = function (zoom) { return Math.max(0.6, Math.min(1, 0.6 + (zoom - 17) * 0.16)); };

  /* Screen pixels between the middles of wires that share a trench. */
  W.pitch = function (zoom) { return Math.max(3, Math.min(6, 3 + (zoom - 17) * 1.0)); };

  /* Points moved beside their line by their lanes; right of the direction is positive. */
  W.shift = function (points, lanes, pitch) {
    return points.map(function (p, i) {
      if (!lanes || !lanes[i]) return [p.x, p.y];
      var a = points[Math.max(0, i - 1)], b = points[Math.min(points.length - 1, i + 1)];
      var into = unit(a, p), out = unit(p, b);
      if (!into) into = out;
      if (!out) out = into;
      if (!into) return [p.x, p.y];
      var nx = -(into[1] + out[1]), ny = into[0] + out[0];
      var norm = Math.hypot(nx, ny);
      if (norm < 0.6) { nx = -into[1]; ny = into[0]; norm = 1; }
      var miter = 2 / (norm * norm);
      var reach = lanes[i] * pitch * (norm === 1 ? 1 : miter);
      return [p.x + nx * reach, p.y + ny * reach];
    });
  };
  function unit(a, b) {
    var length = Math.hypot(b.x - a.x, b.y - a.y);
    return length > 1e-6 ? [(b.x - a.x) / length, (b.y - a.y) / length] : null;
  }

  W.WireLine = L.Polyline.extend({
    _project: function () {
      L.Polyline.prototype._project.call(this);
      var pitch = W.pitch(this._map.getZoom());
      var lanes = this.options.lanes;
      this._rings = this._rings.map(function (ring, i) {
        return W.shift(ring, lanes[i], pitch).map(function (p) { return L.point(p[0], p[1]); });
      });
    },
  });

  /* The colour class, and tracer dash, of a wire by the zones it serves. */
  W.ink = function (zones) {
    var named = W.parts(zones);
    var ink = named.length === 1 ? W.own(facts.inks, named[0]) : null;
    return ink ? { css: "wm-wire-" + ink[0], tracer: ink[1], color: ink[2] }
      : { css: "wm-wire-shared", tracer: "", color: "#6a6f73" };
  };

  /* A short piece of the wire itself, stripped at its end, for lists and the legend. */
  W.stub = function (zones, evidence) {
    var ink = W.ink(zones);
    var dash = evidence === "inferred" ? "7 6" : null;
    return W.el("svg", { class: "wm-stub", viewBox: "0 0 46 14", "aria-hidden": "true" },
      W.el("path", { class: "wm-copper", d: "M34 7h10" }),
      W.el("path", { class: "wm-stub-core " + ink.css, d: "M1 7h34", "stroke-dasharray": dash,
        "stroke-width": evidence === "exposed" ? 9 : 7 }),
      ink.tracer ? W.el("path", { class: "wm-tracer", d: "M1 7h34", "stroke-width": 2,
        "stroke-dasharray": ink.tracer === "0" ? null : ink.tracer }) : null);
  };

  /* A symbol as the map draws it. */
  W.glyph = function (style, inked) {
    if (style.symbol) {
      var half = Math.min(8, style.size / 2);
      return W.el("svg", { class: "wm-glyph", viewBox: "0 0 24 20", "aria-hidden": "true" },
        W.el("path", { class: "wm-" + style.class + (inked || ""), "stroke-width": 1.5,
          "fill-opacity": style.fill_opacity, d: W.outline(style.symbol, 12, 10, half) }),
        style.code ? W.el("text", { x: 12, y: 12.6, class: "wm-glyph-code" }, style.code) : null);
    }
    var area = style.fill;
    return W.el("svg", { class: "wm-glyph", viewBox: "0 0 24 20", "aria-hidden": "true" },
      W.el("path", { class: "wm-" + style.class, "stroke-width": style.width,
        "stroke-dasharray": style.dash || null, "fill-opacity": style.fill_opacity,
        fill: area ? null : "none", d: area ? "M3 4h18v12h-18z" : "M2 10h20" }));
  };

  W.icon = function (name) {
    return W.el("svg", { class: "wm-icon", viewBox: "0 0 24 24", "aria-hidden": "true" },
      W.el("path", { d: ICONS[name] }));
  };
  var ICONS = {
    plus: "M12 5v14M5 12h14",
    minus: "M5 12h14",
    whole: "M4 9V4h5M15 4h5v5M20 15v5h-5M9 20H4v-5",
    here: "M12 3v4M12 17v4M3 12h4M17 12h4M12 8a4 4 0 1 0 0 8a4 4 0 1 0 0-8",
    tape: "M3 8h18v8H3zM7 8v3M11 8v4M15 8v3M19 8v4",
    print: "M7 9V4h10v5M7 17H4V9h16v8h-3M7 14h10v6H7z",
    close: "M6 6l12 12M18 6L6 18",
  };
})(wiremap);
