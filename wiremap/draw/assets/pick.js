/* Picking: one look at everything within a finger's width of a tap. */
"use strict";
(function (W) {
  var REACH_PX = 14;
  var SURE_PX = 6; // a point this near its edge comes before any wire
  var ORDER = ["findings", "valves", "controllers", "faults", "splices", "equipment",
    "depth_readings", "references", "locates"];

  /* Features near a place, points before wires before areas, nearest first. */
  W.pick = function (site, latlng) {
    var map = site.map, zoom = map.getZoom();
    var tap = map.project(latlng, zoom);
    var found = [];
    ORDER.forEach(function (name, rank) {
      var layer = site.layers[name];
      if (!layer || !map.hasLayer(layer)) return;
      layer.features.forEach(function (f) {
        var p = projected(map, zoom, f)[0];
        var reach = W.pointStyle(site, f).size / 2 * W.markScale(zoom);
        var d = Math.max(0, Math.hypot(p[0] - tap.x, p[1] - tap.y) - reach);
        if (d <= REACH_PX) {
          found.push({ feature: f, order: d <= SURE_PX ? 0 : 1, rank: rank, distance: d });
        }
      });
    });
    var wires = site.layers.wires;
    if (wires && map.hasLayer(wires)) {
      wires.features.forEach(function (f) {
        var near = W.nearestOnLine(projected(map, zoom, f), tap.x, tap.y);
        if (near.distance <= REACH_PX) {
          found.push({ feature: f, order: 1, rank: 0, distance: near.distance, near: near });
        }
      });
    }
    var areas = site.layers.dig_buffer;
    if (areas && map.hasLayer(areas)) {
      areas.features.forEach(function (f) {
        if (inArea(f.geometry, latlng)) found.push({ feature: f, order: 2, rank: 0, distance: 0 });
      });
    }
    return found.sort(function (a, b) {
      return a.order - b.order || (a.order === 0 && Math.abs(a.distance - b.distance) < 1
        ? a.rank - b.rank : a.distance - b.distance) || a.rank - b.rank;
    });
  };

  /* A feature's points in pixels at a zoom, as it is drawn; kept until the zoom changes. */
  function projected(map, zoom, f) {
    if (f.pixels && f.pixelZoom === zoom) return f.pixels;
    var at = f.geometry.type === "Point" ? [f.geometry.coordinates] : f.geometry.coordinates;
    var points = at.map(function (c) { return map.project([c[1], c[0]], zoom); });
    f.pixels = W.shift(points, f.properties.lane, W.pitch(zoom));
    f.pixelZoom = zoom;
    return f.pixels;
  }

  function inArea(geometry, latlng) {
    var polygons = geometry.type === "MultiPolygon" ? geometry.coordinates : [geometry.coordinates];
    return polygons.some(function (rings) { return W.inRings(rings, latlng.lng, latlng.lat); });
  }

  /* Nearest wire to a place on the ground: distance in metres, and where along it. */
  W.nearestWire = function (site, latlng) {
    var wires = site.layers.wires;
    if (!wires) return null;
    wires.load();
    var at = W.metres(site, latlng), per = site.facts.metres_per_degree, best = null;
    wires.features.forEach(function (f) {
      f.plane = f.plane || f.geometry.coordinates.map(function (c) {
        return [c[0] * per[0], c[1] * per[1]];
      });
      var near = W.nearestOnLine(f.plane, at[0], at[1]);
      if (!best || near.distance < best.near.distance) best = { feature: f, near: near };
    });
    return best;
  };
})(wiremap);
