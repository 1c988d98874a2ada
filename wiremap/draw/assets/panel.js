/* The panel beside (or, on a phone, beneath) the map: zones, layers, findings, and the record. */
"use strict";
(function (W) {
  var LAYERS = ["valves", "controllers", "wires", "hand_dig", "dig_buffer", "faults", "splices",
    "equipment", "depth_readings", "references", "locates", "findings"];
  var CHUNK = 200; // findings listed at a time
  var STATUS = { complete: "found as listed", partial: "some valves missing", missing: "not found",
    unlisted: "not on the list" };
  var OHMS = { as_expected: "as expected", low: "reads low", high: "reads high", open: "reads open",
    not_read: "" };

  W.buildPanel = function (site) {
    var facts = site.facts;
    var tabs = [["zones", "Zones", zones], ["layers", "Layers", layers],
      ["findings", "Findings", findings], ["record", "Record", about]];
    var list = W.el("div", { class: "wm-tabs", role: "tablist", "aria-label": "Parts of the record" });
    var panels = W.el("div", { class: "wm-panels" });
    site.panel = W.el("aside", { class: "wm-panel", "aria-label": "The record" },
      W.el("header", { class: "wm-title" }, W.el("h1", { dir: "auto" }, facts.name),
        W.el("p", { dir: "auto" }, "Wire record",
          facts.prepared_on ? ", " + longDate(facts.prepared_on) : "",
          facts.prepared_by ? ", by " + facts.prepared_by : "")),
      list, panels);
    tabs.forEach(function (tab, i) {
      var button = W.el("button", { type: "button", role: "tab", id: "wm-tab-" + tab[0],
        "aria-controls": "wm-panel-" + tab[0], "aria-selected": "false", tabindex: i ? -1 : 0,
        onclick: function () { choose(site, tab[0], true); },
        onkeydown: function (event) { step(event, site, tabs, i); } }, tab[1],
      tab[0] === "findings" && (facts.counts.findings || 0)
        ? W.el("span", { class: "wm-count" }, facts.counts.findings) : null);
      var panel = W.el("section", { role: "tabpanel", id: "wm-panel-" + tab[0], hidden: "",
        "aria-labelledby": "wm-tab-" + tab[0], tabindex: "0" });
      list.appendChild(button);
      panels.appendChild(panel);
      panel.fill = function () { W.clear(panel); W.append(panel, tab[2](site)); };
      W.listeners.push(function () { if (panel.firstChild) panel.fill(); });
    });
    document.body.appendChild(site.panel);
    if (wide()) choose(site, "zones", false);
  };

  function wide() { return window.matchMedia("(min-width: 800px)").matches; }

  function choose(site, name, mayClose) {
    var tab = document.getElementById("wm-tab-" + name);
    var close = mayClose && !wide() && tab.getAttribute("aria-selected") === "true";
    site.panel.querySelectorAll("[role=tab]").forEach(function (other) {
      var on = other === tab && !close;
      other.setAttribute("aria-selected", on);
      other.tabIndex = other === tab ? 0 : -1;
      var panel = document.getElementById(other.getAttribute("aria-controls"));
      if (on && !panel.firstChild) panel.fill();
      panel.hidden = !on;
    });
    document.documentElement.classList.toggle("wm-sheet-open", !close);
  }
  W.closeSheet = function (site) {
    if (wide() || !site.panel) return;
    var open = site.panel.querySelector("[aria-selected=true]");
    if (open) choose(site, open.id.slice(7), true);
  };

  function step(event, site, tabs, i) {
    var by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!by) return;
    var next = tabs[(i + by + tabs.length) % tabs.length][0];
    choose(site, next, false);
    document.getElementById("wm-tab-" + next).focus();
  }

  function longDate(iso) {
    var at = iso.split("-").map(Number);
    var month = ["January", "February", "March", "April", "May", "June", "July", "August",
      "September", "October", "November", "December"][at[1] - 1];
    return at[2] + " " + month + " " + at[0];
  }

  /* Zones: the list of the controller, and any zone that only the ground knows. */
  W.zones = function (site) {
    if (site.zones) return site.zones;
    var listed = (site.tables.zones || []).map(function (z) { return L.extend({}, z); });
    var known = Object.create(null);
    listed.forEach(function (z) { known[z.zone] = true; });
    var met = [];
    ["valves", "wires"].forEach(function (name) {
      var layer = site.layers[name];
      if (!layer) return;
      layer.load();
      layer.features.forEach(function (f) {
        met = met.concat(W.parts(name === "wires" ? f.properties.zones : f.properties.zone));
      });
    });
    met.sort(W.naturally).forEach(function (zone) {
      if (!known[zone]) listed.push({ zone: zone });
      known[zone] = true;
    });
    site.zones = listed.filter(function (z) { return z.zone; });
    return site.zones;
  };

  /* Everything on the ground that belongs to a zone: its whole wire path and its valves. */
  W.zoneFeatures = function (site, row) {
    var runs = Object.create(null), valves = [], wires = [];
    var sameController = function (p) {
      return !row.controller || !p.controller || p.controller === row.controller;
    };
    W.parts(row.runs).forEach(function (r) { runs[r] = true; });
    ((site.layers.valves || {}).features || []).forEach(function (f) {
      if (W.parts(f.properties.zone).indexOf(row.zone) < 0 || !sameController(f.properties)) return;
      valves.push(f);
      W.parts(f.properties.path_runs).concat(f.properties.run || []).forEach(function (r) {
        runs[r] = true;
      });
    });
    ((site.layers.wires || {}).features || []).forEach(function (f) {
      var p = f.properties;
      if (runs[p.run] || (W.parts(p.zones).indexOf(row.zone) >= 0 && sameController(p))) wires.push(f);
    });
    return { wires: wires, valves: valves };
  };

  function zones(site) {
    var all = W.zones(site);
    var list = W.el("ul", { class: "wm-zones" }, all.map(function (row) {
      var facts = row.kind && row.kind !== "zone" ? [W.words(row.kind)] : [];
      if (row.mapped_length_m) facts.push(W.distance(row.mapped_length_m) + " of wire");
      if (W.own(STATUS, row.status)) facts.push(STATUS[row.status]);
      if (W.own(OHMS, row.ohms_status) && row.ohms_status !== "as_expected") facts.push(W.own(OHMS, row.ohms_status));
      var bad = row.status && row.status !== "complete" ||
        ["low", "high", "open"].indexOf(row.ohms_status) >= 0;
      return W.el("li", {}, W.el("button", { type: "button", "aria-pressed": String(site.zone === row),
        class: bad ? "wm-zone wm-doubt" : "wm-zone",
        onclick: function () { W.chooseZone(site, site.zone === row ? null : row); } },
      W.stub(row.zone),
      W.el("span", { class: "wm-zone-number", dir: "auto" }, W.short(row.zone, 12)),
      W.el("span", { class: "wm-zone-name", dir: "auto" }, W.short(row.name || "", 80)),
      W.el("span", { class: "wm-zone-facts" }, facts.join(", "))));
    }));
    var field = W.el("input", { type: "search", placeholder: "Zone number or name",
      "aria-label": "Find a zone", oninput: function () { filter(field.value, list, all); },
      onkeydown: function (event) {
        var left = Array.prototype.filter.call(list.children, function (li) { return !li.hidden; });
        if (event.key === "Enter" && left.length) left[0].firstChild.click();
      } });
    return [W.el("div", { class: "wm-find" }, field,
      W.el("button", { type: "button", class: "wm-all", onclick: function () {
        W.chooseZone(site, null); W.fit(site, true); } }, "Show all")),
    all.length ? list : W.el("p", { class: "wm-empty" }, "No zone is known on this property.")];
  }

  function filter(text, list, all) {
    var wanted = text.trim().toLowerCase();
    all.forEach(function (row, i) {
      var has = (row.zone + " " + (row.name || "") + " " + (row.controller || "")).toLowerCase();
      list.children[i].hidden = has.indexOf(wanted) < 0;
    });
  }

  W.chooseZone = function (site, row) {
    site.zone = row;
    var chosen = row ? W.zoneFeatures(site, row) : { wires: [], valves: [] };
    var lit = chosen.wires.concat(chosen.valves);
    ["wires", "valves"].forEach(function (name) {
      ((site.layers[name] || {}).features || []).forEach(function (f) {
        var dim = row && lit.indexOf(f) < 0;
        (f.drawn || []).forEach(function (path) {
          if (path._path) path._path.classList.toggle("wm-dim", Boolean(dim));
          else path.setStyle({ opacity: dim ? 0.15 : 1 });
        });
        if (f.tag) f.tag.plate.classList.toggle("wm-dim", Boolean(dim));
      });
    });
    site.map.getContainer().classList.toggle("wm-choosing", Boolean(row));
    site.panel && site.panel.querySelectorAll(".wm-zone").forEach(function (button, i) {
      button.setAttribute("aria-pressed", String(W.zones(site)[i] === row));
    });
    say(site, row ? "Zone " + row.zone + " chosen: " + chosen.wires.length + " wires, " +
      chosen.valves.length + " valves" : "All zones shown");
    if (!row || !lit.length) return;
    var bounds = L.latLngBounds([]);
    lit.forEach(function (f) {
      var at = f.geometry.type === "Point" ? [f.geometry.coordinates] : f.geometry.coordinates;
      at.forEach(function (c) { bounds.extend([c[1], c[0]]); });
    });
    W.closeSheet(site);
    W.fitTo(site, bounds);
  };

  function say(site, text) { if (site.live) site.live.textContent = text; }
  W.say = say;

  function layers(site) {
    var rows = LAYERS.filter(function (name) { return site.layers[name]; }).map(function (name) {
      var layer = site.layers[name], style = W.style(site, name);
      var count = name === "hand_dig" ? "" : site.facts.counts[name === "wires" ? "wire_runs" : name];
      var box = W.el("input", { type: "checkbox", onchange: function () {
        if (box.checked) site.map.addLayer(layer); else site.map.removeLayer(layer);
        if (name === "valves" || name === "controllers") W.settleTags(site);
        if (site.zone) W.chooseZone(site, site.zone);
      } });
      box.checked = site.map.hasLayer(layer);
      var thin = W.el("span", { class: "wm-thin", "data-layer": name });
      return W.el("li", {}, W.el("label", {}, box,
        W.el("span", { class: "wm-layer-mark" }, name === "wires" ? W.stub(firstZone(site)) : W.glyph(style)),
        W.el("span", {}, name === "wires" ? "Wires, coloured by zone" : style.label),
        W.el("span", { class: "wm-count" }, count)), thin);
    });
    var base = [
      site.base && groundBox(site, site.base, "Property line and buildings", "building"),
      site.aerial && groundBox(site, site.aerial, "Aerial image", "hardscape")];
    return [W.el("ul", { class: "wm-layers" }, rows, base), legend(site)];
  }
  function firstZone(site) { var z = W.zones(site)[0]; return z ? z.zone : ""; }

  function groundBox(site, layer, label, style) {
    var box = W.el("input", { type: "checkbox", onchange: function () {
      if (box.checked) site.map.addLayer(layer); else site.map.removeLayer(layer);
    } });
    box.checked = site.map.hasLayer(layer);
    return W.el("li", {}, W.el("label", {}, box, W.el("span", { class: "wm-layer-mark" },
      W.glyph(site.facts.base_styles[style])), W.el("span", {}, label)));
  }

  W.legendRows = function (site) {
    var s = site.facts.styles, rows = [];
    var evidence = s.wire_segments.kinds, zone = firstZone(site);
    var wires = (site.layers.wires || { features: [] }).features;
    ["exposed", "traced", "inferred"].forEach(function (e) {
      var there = wires.some(function (f) { return (f.properties.evidence || "").indexOf(e[0]) >= 0; });
      if (there) rows.push([W.stub(zone, e), evidence[e].label]);
    });
    if (wires.some(function (f) { return W.parts(f.properties.zones).length !== 1; })) {
      rows.push([W.stub(""), "Serves several zones, or none that is known"]);
    }
    ["hand_dig", "dig_buffer"].forEach(function (name) {
      if (site.layers[name]) rows.push([W.glyph(s[name]), s[name].label]);
    });
    ["valves", "controllers", "splices", "references"].forEach(function (name) {
      if (site.layers[name]) rows.push([W.glyph(s[name]), s[name].label]);
    });
    ["faults", "equipment"].forEach(function (name) {
      var layer = site.layers[name];
      if (!layer) return;
      layer.load();
      var seen = Object.create(null);
      layer.features.forEach(function (f) {
        var style = W.pointStyle(site, f);
        var label = f.properties.status === "repaired" ? "Repaired fault" : style.label;
        if (!seen[label]) rows.push([W.glyph(style), label]);
        seen[label] = true;
      });
    });
    return rows;
  };

  function legend(site) {
    return W.el("section", { class: "wm-legend", "aria-label": "Legend" }, W.el("h2", {}, "Legend"),
      W.el("ul", {}, W.legendRows(site).map(function (row) {
        return W.el("li", {}, row[0], W.el("span", {}, row[1]));
      })),
      W.el("p", {}, "Zones past the eighth repeat a colour with a stripe, as wire does. Wires that" +
        " share a trench are drawn side by side; on the ground they lie together." +
        (site.facts.counts.valves ? " A question mark after a zone number: the evidence suggests it." : "") +
        (site.base || site.aerial ? "" : " The record has no base map.")));
  }

  function findings(site) {
    var layer = site.layers.findings;
    var all = layer ? (layer.all = layer.all || W.read("data-findings", { features: [] }).features) : [];
    if (!all.length) return W.el("p", { class: "wm-empty" }, "No findings: nothing is doubtful.");
    var list = W.el("ol", { class: "wm-findings" });
    var more = W.el("button", { type: "button", class: "wm-more", onclick: add }, "Show more");
    function add() {
      var shown = list.children.length;
      W.append(list, all.slice(shown, shown + CHUNK).map(entry));
      more.hidden = list.children.length >= all.length;
    }
    function entry(f) {
      var p = f.properties;
      var place = f.geometry && W.el("button", { type: "button", onclick: function () {
        showFinding(site, f);
      } }, "Show on map");
      return W.el("li", { class: "wm-severity-" + p.severity },
        W.el("p", { class: "wm-finding-head" }, W.el("strong", {}, p.severity), " ",
          W.el("span", { dir: "auto" }, p.subject)),
        W.el("p", { dir: "auto" }, W.sentence(p.message)), W.el("p", { class: "wm-advice", dir: "auto" }, W.sentence(p.advice)),
        place);
    }
    add();
    return [list, more];
  }
  function showFinding(site, f) {
    var at = f.geometry.coordinates;
    var layer = site.layers.findings;
    f.layer = "findings";
    site.map.addLayer(layer);
    W.closeSheet(site);
    site.map.setView([at[1], at[0]], Math.max(site.map.getZoom(), 20), { animate: false });
    W.showCard(site, [{ feature: f }], 0);
  }

  function about(site) {
    var facts = site.facts;
    return [W.el("p", { class: "wm-caution-full" }, facts.caution),
      W.el("p", {}, "The band round each wire is the wire's own uncertainty at " +
        Math.round(100 * facts.confidence) + " % confidence and " + W.distance(facts.tolerance_m) +
        " on each side. Shallow means that cover may be less than " + W.depth(facts.min_cover_m) + "."),
      W.el("h2", {}, "Where the record comes from"),
      W.el("dl", { class: "wm-facts" }, (site.tables.provenance || []).map(function (row) {
        return W.el("div", {}, W.el("dt", { dir: "auto" }, row.item), W.el("dd", { dir: "auto" }, row.value));
      })),
      W.el("h2", {}, "This page"),
      W.el("p", {}, "It needs no network. Where a phone shows a still drawing, open the file in a web browser."),
      licence()];
  }
  function licence() {
    var text = document.getElementById("leaflet-licence");
    return W.el("details", {}, W.el("summary", {}, "Leaflet draws the map; its licence"),
      W.el("pre", {}, text ? text.textContent : "BSD 2-Clause, see leafletjs.com"));
  }
})(wiremap);
