/* Layers: one Leaflet layer for each layer of the record, built when it is first switched on. */
"use strict";
(function (W) {
  var ORDER = ["aerial", "base", "dig_buffer", "wires", "hand_dig", "references", "locates",
    "depth_readings", "equipment", "splices", "faults", "controllers", "valves", "findings"];
  var CROWD = 1500; // points beyond this many are thinned by zoom
  var CELL_PX = 16;

  W.layer = function (map, name) {
    var site = W.site(map);
    var layer = new RecordLayer(site, name);
    site.layers[name] = layer;
    return layer;
  };

  W.renderer = function (site, name) {
    var pane = "wiremap-" + name;
    if (!site.map.getPane(pane)) {
      site.map.createPane(pane).style.zIndex = 401 + 2 * ORDER.indexOf(name);
      site.map.getPane(pane).style.pointerEvents = "none";
    }
    var options = { pane: pane, padding: 0.6 };
    return site.options.renderer === "canvas" ? L.canvas(options) : L.svg(options);
  };

  W.style = function (site, name) {
    return name === "wires" ? site.facts.styles.wire_segments : site.facts.styles[name];
  };

  var RecordLayer = L.LayerGroup.extend({
    initialize: function (site, name) {
      L.LayerGroup.prototype.initialize.call(this);
      this.site = site;
      this.name = name;
      this.features = null;
    },

    onAdd: function (map) {
      this.load();
      if (!this.built) {
        this.renderer = W.renderer(this.site, this.name);
        this.build();
        this.built = true;
      }
      L.LayerGroup.prototype.onAdd.call(this, map);
      if (this.crowded) {
        map.on("moveend", this.thin, this);
        this.thin();
      }
    },

    onRemove: function (map) {
      map.off("moveend", this.thin, this);
      L.LayerGroup.prototype.onRemove.call(this, map);
    },

    load: function () {
      if (this.features) return;
      var source = this.name === "hand_dig" ? "wires" : this.name;
      var shared = this.site.layers.wires;
      if (source === "wires" && shared && shared.features) this.features = shared.features;
      else {
        var block = W.read("data-" + source, { features: [] });
        this.features = [];
        block.features.forEach(function (f) {
          if (!f.geometry) return;
          if (f.geometry.type === "MultiPoint") spread(f, this.features);
          else this.features.push(f);
        }, this);
        this.features.forEach(function (f) { f.layer = source; });
      }
    },

    build: function () {
      if (this.name === "wires") this.buildWires();
      else if (this.name === "hand_dig") this.buildHandDig();
      else if (this.name === "dig_buffer") this.buildAreas();
      else this.buildPoints();
    },

    /* Outlines first, fills over them: bands that overlap read as one. */
    buildAreas: function () {
      var style = W.style(this.site, this.name);
      this.site.map.getPane(this.renderer.options.pane).classList.add("wm-wash");
      var area = function (f, options) {
        return L.polygon(flip(f.geometry.coordinates, f.geometry.type), L.extend({
          renderer: this.renderer, pane: this.renderer.options.pane, interactive: false,
          smoothFactor: 0.6, color: style.color,
        }, options));
      };
      this.features.forEach(function (f) {
        this.addLayer(area.call(this, f, { className: "wm-area-edge wm-" + style.class,
          weight: 2 * style.width, dashArray: style.dash, fill: false }));
      }, this);
      this.features.forEach(function (f) {
        this.addLayer(area.call(this, f, { className: "wm-area wm-" + style.class, stroke: false,
          fillColor: style.fill, fillOpacity: 1 }));
      }, this);
    },

    buildWires: function () {
      this.features.forEach(function (f) {
        var ink = W.ink(f.properties.zones);
        var all = stretches(f, function () { return true; });
        var first = (f.drawn || []).length;
        f.drawn = (f.drawn || []).concat(this.wire(all, { className: "wm-case", weight: 6.5, color: "#fbf8f1" }));
        ["exposed", "traced", "inferred"].forEach(function (evidence) {
          var some = stretches(f, function (piece) {
            return (f.properties.evidence || "")[piece] === evidence[0] ||
              (evidence === "traced" && !f.properties.evidence);
          });
          if (!some.lines.length) return;
          var style = W.style(this.site, "wires").kinds[evidence];
          f.drawn.push(this.wire(some, { className: "wm-core " + ink.css, weight: style.width,
            dashArray: style.dash, color: ink.color }));
        }, this);
        if (ink.tracer) {
          f.drawn.push(this.wire(all, { className: "wm-tracer", weight: 1.3, color: "#ffffff",
            dashArray: ink.tracer === "0" ? "" : ink.tracer }));
        }
        f.drawn.slice(first).forEach(this.addLayer, this);
      }, this);
    },

    wire: function (stretch, options) {
      return new W.WireLine(stretch.lines, L.extend({
        renderer: this.renderer, pane: this.renderer.options.pane, interactive: false,
        lineCap: "butt", smoothFactor: 0.8, lanes: stretch.lanes, opacity: 1,
      }, options));
    },

    buildHandDig: function () {
      var style = W.style(this.site, "hand_dig");
      var limit = this.site.facts.min_cover_m;
      this.features.forEach(function (f) {
        var cover = f.properties.cover || [];
        var some = stretches(f, function (piece) {
          return W.isNumber(cover[piece]) && cover[piece] < limit;
        });
        if (!some.lines.length) return;
        f.drawn = f.drawn || [];
        f.drawn.push(this.wire(some, { className: "wm-" + style.class, weight: style.width,
          dashArray: style.dash, color: style.color, opacity: 0.75 }));
        this.addLayer(f.drawn[f.drawn.length - 1]);
      }, this);
    },

    buildPoints: function () {
      this.crowded = this.features.length > CROWD;
      if (!this.crowded) this.features.forEach(function (f) { this.addLayer(this.mark(f)); }, this);
      W.buildTags(this);
    },

    mark: function (f) {
      if (f.drawn) return f.drawn[0];
      var style = W.pointStyle(this.site, f);
      var at = f.geometry.coordinates;
      var zone = this.name === "valves" ? " wm-zoned " + W.ink(f.properties.zone).css : "";
      f.drawn = [new W.Mark([at[1], at[0]], {
        renderer: this.renderer, pane: this.renderer.options.pane, interactive: false,
        className: "wm-mark wm-" + style.class + zone, symbol: style.symbol,
        radius: style.size / 2, color: style.color, weight: style.width, fill: true,
        fillColor: zone ? W.ink(f.properties.zone).color : style.fill || style.color,
        fillOpacity: style.fill_opacity,
      })];
      return f.drawn[0];
    },

    /* All points in sight where they are few; else one a cell of the screen. */
    thin: function () {
      var map = this._map, seen = Object.create(null), bounds = map.getBounds().pad(0.2);
      var near = this.features.filter(function (f) {
        return bounds.contains([f.geometry.coordinates[1], f.geometry.coordinates[0]]);
      });
      if (near.length > CROWD) {
        near = near.filter(function (f) {
          var p = map.project([f.geometry.coordinates[1], f.geometry.coordinates[0]]);
          var key = Math.floor(p.x / CELL_PX) + ":" + Math.floor(p.y / CELL_PX);
          var first = !seen[key];
          seen[key] = true;
          return first;
        });
      }
      var kept = new Set(near);
      this.features.forEach(function (f) {
        if (kept.has(f)) this.addLayer(this.mark(f));
        else if (f.drawn) this.removeLayer(f.drawn[0]);
      }, this);
      map.fire("wiremapthin", { layer: this.name, shown: near.length });
    },
  });

  W.pointStyle = function (site, f) {
    var style = W.style(site, f.layer);
    var kind = W.own(style.kinds, f.properties[style.by]) || style;
    if (f.layer === "faults" && f.properties.status === "repaired") {
      return L.extend({}, site.facts.repaired, { symbol: kind.symbol });
    }
    return kind;
  };

  /* The points of a group, each with its own values and those that the group shares. */
  function spread(group, features) {
    var shared = {}, listed = [];
    Object.keys(group.properties).forEach(function (key) {
      if (Array.isArray(group.properties[key])) listed.push(key);
      else shared[key] = group.properties[key];
    });
    group.geometry.coordinates.forEach(function (at, i) {
      var properties = Object.assign({}, shared);
      listed.forEach(function (key) {
        if (group.properties[key][i] !== null) properties[key] = group.properties[key][i];
      });
      features.push({ geometry: { type: "Point", coordinates: at }, properties: properties });
    });
  }

  /* Pieces of a wire that pass a test, strung together, with their lanes. */
  function stretches(f, test) {
    var at = f.geometry.coordinates, lane = f.properties.lane, lines = [], lanes = [];
    for (var i = 0; i + 1 < at.length; i++) {
      if (!test(i)) continue;
      var open = i > 0 && test(i - 1);
      if (!open) { lines.push([latlng(at[i])]); lanes.push([lane ? lane[i] : 0]); }
      lines[lines.length - 1].push(latlng(at[i + 1]));
      lanes[lanes.length - 1].push(lane ? lane[i + 1] : 0);
    }
    return { lines: lines, lanes: lanes };
  }
  function latlng(c) { return L.latLng(c[1], c[0]); }

  function flip(coordinates, type) {
    var rings = function (polygon) {
      return polygon.map(function (ring) { return ring.map(function (c) { return [c[1], c[0]]; }); });
    };
    return type === "MultiPolygon" ? coordinates.map(rings) : rings(coordinates);
  }

  /* The aerial image, turned to the map's axes when it was embedded. */
  W.drawAerial = function (site, image) {
    W.renderer(site, "aerial");
    var b = image.bounds;
    return L.imageOverlay(image.uri, [[b[1], b[0]], [b[3], b[2]]], {
      pane: "wiremap-aerial", interactive: false, className: "wm-aerial",
      alt: "Aerial image of the property" });
  };

  /* The base: property line, buildings, paving. */
  W.drawBase = function (site) {
    var group = L.layerGroup();
    var renderer = W.renderer(site, "base");
    W.read("data-base", []).forEach(function (layer) {
      var style = site.facts.base_styles[layer.kind];
      L.geoJSON(layer.features, {
        renderer: renderer, interactive: false,
        pointToLayer: function (_, at) { return L.circleMarker(at, { radius: 2 }); },
        style: function (feature) {
          var area = /Polygon$/.test(feature.geometry.type);
          return { renderer: renderer, pane: renderer.options.pane, interactive: false,
            className: "wm-base wm-" + style.class + (area ? "" : " wm-open"), color: style.color,
            weight: style.width, dashArray: style.dash, fill: area && Boolean(style.fill),
            fillColor: style.fill || null, fillOpacity: style.fill_opacity };
        },
      }).addTo(group);
    });
    return group;
  };

  /* Tags: valve numbers, controller names, equipment codes. */
  W.buildTags = function (layer) {
    var text = {
      valves: function (p) {
        return p.zone || (p.suggested_zone ? p.suggested_zone + "?" : "?");
      },
      controllers: function (p) { return p.controller || "Controller"; },
      equipment: function (p, style) { return style.code; },
      findings: function (p, style) { return style.code; },
    }[layer.name];
    if (!text || layer.crowded) return;
    var map = layer.site.map;
    if (!map.getPane("wiremap-tags")) {
      map.createPane("wiremap-tags").style.zIndex = 620;
      map.getPane("wiremap-tags").style.pointerEvents = "none";
    }
    layer.features.forEach(function (f) {
      var style = W.pointStyle(layer.site, f);
      var inside = layer.name === "equipment" || layer.name === "findings";
      var said = text(f.properties, style);
      if (!said) return;
      var ink = layer.name === "valves" ? W.ink(f.properties.zone).css : "";
      var plate = W.el("span", { class: "wm-tag wm-tag-" + layer.name + " " + ink, dir: "auto" },
        W.short(said, 18));
      var at = f.geometry.coordinates;
      f.tag = L.marker([at[1], at[0]], {
        pane: "wiremap-tags", interactive: false, keyboard: false,
        icon: L.divIcon({ className: inside ? "wm-tag-in" : "wm-tag-at", iconSize: [0, 0],
          html: plate }),
      });
      f.tag.plate = plate;
      layer.addLayer(f.tag);
    });
  };

  /* Tags that would cover each other, or a symbol, give way: controllers first, then in order. */
  W.settleTags = function (site) {
    var map = site.map, bounds = map.getBounds().pad(0.1), taken = [], scale = W.markScale(map.getZoom());
    map.getContainer().classList.toggle("wm-far", map.getZoom() < 18.4);
    var shown = function (name) {
      var layer = site.layers[name];
      if (!layer || !map.hasLayer(layer)) return [];
      return layer.features.filter(function (f) {
        return bounds.contains([f.geometry.coordinates[1], f.geometry.coordinates[0]]);
      });
    };
    var around = function (f, half) {
      var p = map.latLngToContainerPoint([f.geometry.coordinates[1], f.geometry.coordinates[0]]);
      return [p.x - half, p.y - half, p.x + half, p.y + half];
    };
    var meets = function (box) {
      return taken.some(function (t) {
        return box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1];
      });
    };
    ["controllers", "faults", "valves", "splices"].forEach(function (name) {
      shown(name).forEach(function (f) {
        taken.push(around(f, W.pointStyle(site, f).size / 2 * scale - 2));
      });
    });
    shown("equipment").reverse().forEach(function (f) {
      if (!f.tag || !f.tag._icon) return;
      var box = around(f, 8);
      f.tag.plate.classList.toggle("wm-tag-out", meets(box) || scale < 0.8);
      taken.push(box);
    });
    ["controllers", "valves"].forEach(function (name) {
      shown(name).forEach(function (f) {
        if (f.tag && f.tag._icon) place(map, f.tag, meets, taken, 7 * scale + 1);
      });
    });
  };
  function place(map, tag, meets, taken, away) {
    var p = map.latLngToContainerPoint(tag.getLatLng());
    var width = tag.plate.offsetWidth || 8 * tag.plate.textContent.length + 8;
    var height = tag.plate.offsetHeight || 18;
    var spots = [[away, -height - away], [-width - away, -height - away], [away, away],
      [-width - away, away], [away + 4, -height / 2], [-width - away - 4, -height / 2]];
    var boxes = spots.map(function (s) {
      return [p.x + s[0], p.y + s[1], p.x + s[0] + width, p.y + s[1] + height];
    });
    var free = boxes.findIndex(function (box) { return !meets(box); });
    tag.plate.classList.toggle("wm-tag-out", free < 0);
    if (free < 0) return;
    tag.plate.style.transform = "translate(" + spots[free][0] + "px," + spots[free][1] + "px)";
    taken.push(boxes[free]);
  }
})(wiremap);
