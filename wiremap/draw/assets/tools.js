/* Tools on the map: zoom, whole property, my position, measure, unit, print, and the scale. */
"use strict";
(function (W) {
  W.buildTools = function (site) {
    var bar = W.el("div", { class: "wm-tools", role: "toolbar", "aria-label": "Map tools",
      "aria-orientation": "vertical" },
    tool("Zoom in", "plus", function () { site.map.zoomIn(1); }),
    tool("Zoom out", "minus", function () { site.map.zoomOut(1); }),
    tool("Whole property", "whole", function () { W.fit(site, true); }),
    tool("My position", "here", function (event) { toggle(event, site, W.locate, W.stopLocating); }),
    tool("Measure", "tape", function (event) { toggle(event, site, W.measure, W.stopMeasuring); }),
    W.el("button", { type: "button", class: "wm-unit", title: "Feet and inches, or metres",
      "aria-label": unitName(), onclick: function () {
        W.setUnit(W.unit === "m" ? "ft" : "m");
      } }, unitText()),
    tool("Print", "print", function () { window.print(); }));
    W.listeners.push(function () {
      var button = bar.querySelector(".wm-unit");
      button.textContent = unitText();
      button.setAttribute("aria-label", unitName());
    });
    site.main.appendChild(bar);
    site.note = W.el("div", { class: "wm-note", role: "status", hidden: "" });
    site.main.appendChild(site.note);
  };
  function unitText() { return W.unit === "m" ? "m" : "ft in"; }
  function unitName() { return unitText() + ", unit of lengths"; }

  function tool(label, icon, action) {
    return W.el("button", { type: "button", title: label, "aria-label": label, onclick: action },
      W.icon(icon));
  }
  function toggle(event, site, start, stop) {
    var button = event.currentTarget, on = button.getAttribute("aria-pressed") === "true";
    button.setAttribute("aria-pressed", String(!on));
    if (on) stop(site); else start(site, button);
  }

  function note(site, children) {
    W.clear(site.note);
    site.note.hidden = !children;
    if (children) W.append(site.note, children);
  }

  W.fit = function (site, always) {
    var b = site.facts.bounds;
    if (b && b.length) W.fitTo(site, L.latLngBounds([b[1], b[0]], [b[3], b[2]]));
    else if (always) W.say(site, "Nothing is placed on this property.");
  };
  W.fitTo = function (site, bounds) {
    site.map.fitBounds(bounds, { animate: false, paddingTopLeft: [36, 44],
      paddingBottomRight: [72, 56], maxZoom: 22 });
  };

  /* My position: the phone's own, with how far off it may be, and the nearest wire. */
  W.locate = function (site, button) {
    if (!navigator.geolocation) {
      note(site, "This viewer gives no position.");
      return;
    }
    note(site, "Waiting for a position\u2026");
    site.watch = navigator.geolocation.watchPosition(function (fix) {
      show(site, fix.coords);
    }, function (error) {
      var why = { 1: "This page may not read the position. Allow it in the browser's settings; " +
        "some phones allow it only for pages from a web address.",
      2: "The device finds no position.", 3: "No position came in time." }[error.code];
      note(site, why || "No position.");
      if (error.code === 1) { W.stopLocating(site, true); button.setAttribute("aria-pressed", "false"); }
    }, { enableHighAccuracy: true, timeout: 30000 });
  };
  function show(site, coords) {
    var at = L.latLng(coords.latitude, coords.longitude), first = !site.here;
    site.lastFix = coords;
    if (first) {
      site.here = L.layerGroup().addTo(site.map);
      site.hereCircle = L.circle(at, { radius: coords.accuracy, className: "wm-here-circle",
        interactive: false, color: "#9a5b2e", renderer: site.ringRenderer }).addTo(site.here);
      site.hereDot = L.circleMarker(at, { radius: 7, className: "wm-here-dot", interactive: false,
        color: "#9a5b2e", fillOpacity: 1, renderer: site.ringRenderer }).addTo(site.here);
      site.map.setView(at, Math.max(site.map.getZoom(), 19), { animate: false });
    }
    site.hereCircle.setLatLng(at).setRadius(coords.accuracy);
    site.hereDot.setLatLng(at);
    sayPosition(site);
  }
  function sayPosition(site) {
    if (!site.here) return;
    var coords = site.lastFix;
    var near = W.nearestWire(site, L.latLng(coords.latitude, coords.longitude));
    note(site, [W.el("p", {}, W.el("strong", {}, near
      ? W.distance(near.near.distance) + " to wire " + W.short(near.feature.properties.run || "", 40)
      : "No wire on this map"), ", position within " + W.distance(coords.accuracy)),
    W.el("p", {}, site.facts.position_caution)]);
  }
  W.stopLocating = function (site, keepNote) {
    if (site.watch !== undefined) navigator.geolocation.clearWatch(site.watch);
    if (site.here) site.here.remove();
    site.here = null;
    if (!keepNote) note(site, null);
  };

  /* Measure: tap corner after corner; the plane is the ground at this property. */
  W.measure = function (site) {
    site.measuring = { corners: [], line: L.polyline([], { className: "wm-measure",
      interactive: false, color: "#9a5b2e", renderer: site.ringRenderer }).addTo(site.map) };
    document.documentElement.classList.add("wm-measuring");
    sayMeasure(site);
  };
  W.measureTap = function (site, latlng) {
    site.measuring.corners.push(latlng);
    site.measuring.line.setLatLngs(site.measuring.corners);
    sayMeasure(site);
  };
  W.measured = function (site) {
    var corners = site.measuring.corners, sum = 0;
    for (var i = 1; i < corners.length; i++) sum += W.between(site, corners[i - 1], corners[i]);
    return sum;
  };
  function sayMeasure(site) {
    if (!site.measuring) return;
    var corners = site.measuring.corners;
    var last = corners.length > 1
      ? W.between(site, corners[corners.length - 2], corners[corners.length - 1]) : 0;
    note(site, corners.length < 2
      ? (corners.length ? "Tap where to measure to." : "Tap where to measure from.")
      : [W.el("p", {}, W.el("strong", {}, W.distance(W.measured(site))),
        corners.length > 2 ? " in all, last leg " + W.distance(last) : ""),
      W.el("button", { type: "button", onclick: function () {
        corners.length = 0; site.measuring.line.setLatLngs([]); sayMeasure(site);
      } }, "Start again")]);
  }
  W.stopMeasuring = function (site) {
    if (site.measuring) site.measuring.line.remove();
    site.measuring = null;
    document.documentElement.classList.remove("wm-measuring");
    note(site, null);
  };
  W.listenTools = function (site) {
    W.listeners.push(function () { sayMeasure(site); sayPosition(site); });
  };

  /* The scale: one tape, feet above and metres below. */
  W.buildScale = function (site) {
    var node = W.el("div", { class: "wm-scale" });
    site.main.appendChild(node);
    var draw = function () {
      var map = site.map, y = map.getSize().y / 2;
      var left = map.containerPointToLatLng([0, y]), right = map.containerPointToLatLng([100, y]);
      var pxPerM = 100 / W.between(site, left, right);
      if (!isFinite(pxPerM)) return;
      var room = Math.min(220, map.getSize().x * 0.42);
      var feet = round(room / pxPerM / 0.3048), metres = round(room / pxPerM);
      var wf = feet * 0.3048 * pxPerM, wm = metres * pxPerM, w = Math.max(wf, wm);
      var marks = function (length, count, y1, y2) {
        var text = "";
        for (var i = 0; i <= count; i++) {
          var long = i === 0 || i === count || (count % 2 === 0 && i === count / 2);
          text += "M" + (1 + length * i / count).toFixed(1) + " " + y1 + "V" + (long ? y2 : (y1 + y2) / 2);
        }
        return text;
      };
      W.clear(node);
      W.append(node, W.el("svg", { width: w + 64, height: 36, role: "img",
        "aria-label": "Scale: " + feet + " feet, " + metres + " metres" },
      W.el("path", { class: "wm-tape", d: "M1.5 6.5h" + Math.round(wf) + "v11H1.5zM1.5 17.5h" +
        Math.round(wm) + "v11H1.5z" }),
      W.el("path", { class: "wm-tape-marks", d: marks(wf, 10, 7, 14) + marks(wm, 10, 28, 21) }),
      W.el("text", { x: wf + 6, y: 14 }, feet + " ft"),
      W.el("text", { x: wm + 6, y: 27 }, metres + " m")));
    };
    site.map.on("zoomend moveend resize", draw);
    draw();
  };
  function round(room) {
    var decade = Math.pow(10, Math.floor(Math.log10(room)));
    return [5, 2, 1].map(function (s) { return s * decade; }).find(function (v) { return v <= room; });
  }

  /* Print: the map fitted to the sheet, the zone table beneath it, the caution on it. */
  W.buildPrint = function (site) {
    var sheet = W.el("section", { class: "wm-print", "aria-hidden": "true" });
    document.body.appendChild(sheet);
    window.addEventListener("beforeprint", function () {
      W.clear(sheet);
      W.append(sheet, printed(site));
      site.printView = [site.map.getCenter(), site.map.getZoom()];
      document.documentElement.classList.add("wm-printing");
      site.map.invalidateSize({ animate: false });
      if (site.facts.bounds.length) {
        var b = site.facts.bounds;
        site.map.fitBounds([[b[1], b[0]], [b[3], b[2]]], { animate: false, padding: [40, 40], maxZoom: 23 });
      }
      W.settleTags(site);
    });
    window.addEventListener("afterprint", function () {
      document.documentElement.classList.remove("wm-printing");
      site.map.invalidateSize({ animate: false });
      site.map.setView(site.printView[0], site.printView[1], { animate: false });
      W.settleTags(site);
    });
  };
  function printed(site) {
    var facts = site.facts;
    var head = ["Wire", "Zone", "Name", "Valves found / listed", "Wire length", "Status"];
    return [W.el("header", {}, W.el("h1", { dir: "auto" }, facts.name),
      W.el("p", { dir: "auto" },
        [facts.prepared_on, facts.prepared_by, "north is up"].filter(Boolean).join(", ")),
      W.el("p", { class: "wm-print-caution" }, facts.caution)),
    W.el("ul", { class: "wm-print-legend" }, W.legendRows(site).map(function (row) {
      return W.el("li", {}, row[0], W.el("span", {}, row[1]));
    })),
    W.el("table", {}, W.el("caption", {}, "Zones"),
      W.el("thead", {}, W.el("tr", {}, head.map(function (h) { return W.el("th", { scope: "col" }, h); }))),
      W.el("tbody", {}, W.zones(site).map(function (z) {
        var counts = z.valves_found === undefined ? "" : z.valves_found + " / " +
          (z.valves_listed === undefined ? "\u2013" : z.valves_listed);
        return W.el("tr", {}, W.el("td", {}, W.stub(z.zone)), W.el("td", { dir: "auto" }, z.zone),
          W.el("td", { dir: "auto" }, W.short(z.name || "", 120)), W.el("td", {}, counts),
          W.el("td", {}, z.mapped_length_m ? W.distance(z.mapped_length_m) : ""),
          W.el("td", {}, z.status || ""));
      })),
      W.el("tfoot", {}, W.el("tr", {}, W.el("td", { colspan: 6 }, facts.caution))))];
  }
})(wiremap);
