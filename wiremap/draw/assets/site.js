/* The record on its page: data, units, plane geometry, and the elements everything is built of.
   Field text is only ever set as text. */
"use strict";
var wiremap = (function () {
  var W = {};

  W.read = function (name, fallback) {
    var block = document.getElementById("wiremap-" + name);
    return block ? JSON.parse(block.textContent) : fallback;
  };

  W.site = function (map) {
    if (!map._wiremap) {
      map._wiremap = {
        map: map,
        facts: W.read("data-site", {}),
        tables: W.read("data-tables", {}),
        profiles: W.read("data-profiles", { depth: {}, tone: {} }),
        layers: {},
        zone: null,
        options: W.read("data-options", {}),
      };
      W.unit = W.unit || map._wiremap.facts.unit;
    }
    return map._wiremap;
  };

  /* An element with attributes and children; strings become text nodes, never markup. */
  W.el = function (tag, attributes) {
    var svg = W.SVG_TAGS.indexOf(tag) >= 0;
    var node = svg ? document.createElementNS("http://www.w3.org/2000/svg", tag)
      : document.createElement(tag);
    Object.keys(attributes || {}).forEach(function (key) {
      if (key.slice(0, 2) === "on") node.addEventListener(key.slice(2), attributes[key]);
      else if (attributes[key] !== null && attributes[key] !== undefined) {
        node.setAttribute(key, attributes[key]);
      }
    });
    for (var i = 2; i < arguments.length; i++) W.append(node, arguments[i]);
    return node;
  };
  W.SVG_TAGS = ["svg", "g", "path", "line", "circle", "text", "rect", "polygon", "title"];

  W.append = function (node, child) {
    if (child === null || child === undefined || child === "") return;
    if (Array.isArray(child)) child.forEach(function (c) { W.append(node, c); });
    else node.appendChild(child.nodeType ? child : document.createTextNode(String(child)));
  };

  W.clear = function (node) { while (node.firstChild) node.removeChild(node.firstChild); };

  /* A member by a name that came from the field: never one that every object inherits. */
  W.own = function (object, key) {
    return object && Object.prototype.hasOwnProperty.call(object, key) ? object[key] : undefined;
  };

  W.isNumber = function (value) { return typeof value === "number" && isFinite(value); };

  /* Lengths, in the reader's unit. */
  W.listeners = [];
  W.setUnit = function (unit) {
    W.unit = unit;
    W.listeners.forEach(function (listener) { listener(); });
  };

  /* A depth, to the inch or centimetre; a bound is rounded outward (Math.floor, Math.ceil). */
  W.depth = function (metres, rounding) {
    if (!W.isNumber(metres)) return "not known";
    var round = rounding || Math.round;
    if (W.unit === "m") return (round(+(100 * metres).toFixed(4)) / 100).toFixed(2) + " m";
    var inches = Math.abs(round(+(metres / 0.0254).toFixed(4)));
    var feet = Math.floor(inches / 12);
    var rest = inches - 12 * feet;
    var text = feet ? feet + " ft" + (rest ? " " + rest + " in" : "") : rest + " in";
    return metres < 0 && inches ? "\u2212" + text : text;
  };

  W.distance = function (metres) {
    if (!W.isNumber(metres)) return "not known";
    if (W.unit === "m") return (metres < 10 ? metres.toFixed(2) : metres.toFixed(1)) + " m";
    var feet = metres / 0.3048;
    return (feet < 100 ? feet.toFixed(1) : Math.round(feet).toLocaleString("en")) + " ft";
  };

  /* A sentence of the record, its metres in the reader's unit: inches where all are short, else
     feet. The drawing's sheets read the same. */
  var LENGTHS = /(^|[^\w.])((?:\d+(?:\.\d+)? to \d+(?:\.\d+)?, )*\d+(?:\.\d+)?(?: to \d+(?:\.\d+)?)?) m\b/g;
  W.sentence = function (text) {
    if (!text || W.unit === "m") return text;
    return text.replace(LENGTHS, function (_, before, lengths) {
      var short = lengths.match(/\d+(\.\d+)?/g).every(function (n) { return Number(n) < 1; });
      var converted = lengths.replace(/\d+(?:\.(\d+))?/g, function (n, places) {
        var kept = Math.min(Math.max((places || "").length - (short ? 2 : 0), 0), 1);
        return (Number(n) / (short ? 0.0254 : 0.3048)).toFixed(kept);
      });
      return before + converted + (short ? " in" : " ft");
    });
  };

  /* A share that never says certain. */
  W.percent = function (share) {
    return share >= 0.995 ? "over 99 %" : Math.round(100 * share) + " %";
  };

  W.depthBand = function (site, depth, sigma) {
    if (!W.isNumber(depth)) return "not known";
    if (!W.isNumber(sigma)) return W.depth(depth);
    var share = site.facts.confidence || 0.95;
    var reach = W.normalQuantile(share) * sigma;
    return W.depth(depth) + ", between " + W.depth(Math.max(0, depth - reach), Math.floor) + " and " +
      W.depth(depth + reach, Math.ceil) + " with " + Math.round(100 * share) + " % confidence";
  };

  /* Two-sided normal quantile by bisection of the error function's series. */
  W.normalQuantile = function (share) {
    var low = 0, high = 8;
    for (var i = 0; i < 60; i++) {
      var middle = (low + high) / 2;
      if (W.normalShare(middle) < share) low = middle; else high = middle;
    }
    return low;
  };
  W.normalShare = function (z) {
    var x = z / Math.SQRT2, term = x, sum = x;
    for (var n = 1; n < 200; n++) {
      term *= -x * x / n;
      sum += term / (2 * n + 1);
    }
    return 2 / Math.sqrt(Math.PI) * sum;
  };

  /* The plane at the property, metres. */
  W.metres = function (site, latlng) {
    var per = site.facts.metres_per_degree;
    return [latlng.lng * per[0], latlng.lat * per[1]];
  };
  W.between = function (site, a, b) {
    var p = W.metres(site, a), q = W.metres(site, b);
    return Math.hypot(p[0] - q[0], p[1] - q[1]);
  };

  /* Nearest place on a line of [x, y] points: distance, piece and share of the piece. */
  W.nearestOnLine = function (points, x, y) {
    var best = { distance: Infinity, piece: 0, share: 0 };
    for (var i = 0; i + 1 < points.length; i++) {
      var ax = points[i][0], ay = points[i][1];
      var dx = points[i + 1][0] - ax, dy = points[i + 1][1] - ay;
      var square = dx * dx + dy * dy;
      var t = square ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / square)) : 0;
      var d = Math.hypot(ax + t * dx - x, ay + t * dy - y);
      if (d < best.distance) best = { distance: d, piece: i, share: t };
    }
    return best;
  };

  W.inRings = function (rings, x, y) {
    var inside = false;
    rings.forEach(function (ring) {
      for (var i = 0, j = ring.length - 1; i < ring.length; j = i++) {
        var a = ring[i], b = ring[j];
        if ((a[1] > y) !== (b[1] > y) &&
            x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]) inside = !inside;
      }
    });
    return inside;
  };

  W.parts = function (text) {
    return String(text || "").split(";").map(function (p) { return p.trim(); })
      .filter(Boolean);
  };

  W.short = function (text, length) {
    text = String(text);
    return text.length > length ? text.slice(0, length - 1) + "\u2026" : text;
  };

  W.words = function (text) { return String(text).replace(/[_-]/g, " "); };

  W.naturally = function (a, b) {
    return String(a).localeCompare(String(b), "en", { numeric: true });
  };
  return W;
})();
