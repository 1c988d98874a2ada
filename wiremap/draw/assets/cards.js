/* The card: everything the record says of what was picked, and what else lies there. */
"use strict";
(function (W) {
  var END = { valve: "at a valve", splice: "at a splice", fault: "at a fault",
    lost: "where the tone was lost", open: "open, with nothing found" };
  var EVIDENCE = { e: "seen in an open hole", t: "traced", i: "inferred between locates" };
  var METHOD = { two_sided: "two-sided pair", one_sided: "one-sided pair",
    located_pair: "pair of located marks", exposed: "seen in an open hole", probed: "probed" };

  var READERS = {
    valves: function (site, p) {
      return { title: p.zone ? "Valve of zone " + p.zone : "Valve, no zone known", rows: [
        ["Depth", band(site, p)], ["Valve", p.valve], ["Box", p.box],
        ["Controller", p.controller], ["Zone list", p.zone_status && W.words(p.zone_status)],
        ["Evidence suggests", p.suggested_zone && "zone " + p.suggested_zone], ["Wire", p.run],
        ["Wire from controller", along(p.path_length_m, p.path_length_sigma_m)],
        ["Position error", rms(p)], ["Seen", dates(p)]] };
    },
    splices: function (site, p) {
      return { title: "Splice " + (p.splice || ""), rows: [
        ["Depth", band(site, p)], ["Wire", p.run], ["Box", p.box], ["Position error", rms(p)], ["Seen", dates(p)]] };
    },
    faults: function (site, p) {
      var style = W.own(site.facts.styles.faults.kinds, p.kind);
      return { title: (p.status === "repaired" ? "Repaired: " : "") + (style ? style.label : "Fault") +
        (p.run ? " on wire " + p.run : ""), rows: [
        ["Status", p.status], ["Name", p.fault],
        ["Along the wire", W.isNumber(p.chainage_m) && W.distance(p.chainage_m) +
          (W.isNumber(p.chainage_low_m) ? ", between " + W.distance(p.chainage_low_m) + " and " +
          W.distance(p.chainage_high_m) : "")],
        ["Current lost", W.isNumber(p.loss_fraction) && Math.round(100 * p.loss_fraction) + " %"],
        ["Confidence", W.isNumber(p.confidence) && W.percent(p.confidence)],
        ["Rests on", W.sentence(p.evidence)], ["Where to open", W.sentence(p.dig)], ["Position error", rms(p)],
        ["Seen", dates(p)]] };
    },
    controllers: function (site, p) {
      return { title: "Controller " + (p.controller || ""), rows: [["Position error", rms(p)],
        ["Seen", dates(p)]] };
    },
    equipment: function (site, p) {
      var style = W.own(site.facts.styles.equipment.kinds, p.kind);
      return { title: style ? style.label : W.words(p.kind || "Equipment"), rows: [
        ["Name", p.label], ["Position error", rms(p)], ["Seen", dates(p)]] };
    },
    references: function (site, p) {
      return { title: "Reference " + (p.reference || ""), rows: [["What it is", p.kind],
        ["Immovable", p.is_permanent === undefined ? null : p.is_permanent ? "yes" : "no"],
        ["Position error", W.isNumber(p.rms) && W.distance(p.rms)]] };
    },
    depth_readings: function (site, p) {
      return { title: "Depth reading " + (p.point || ""), rows: [["Depth", band(site, p)],
        ["How", W.own(METHOD, p.method) || p.method], ["Wire", p.run], ["Date", p.date],
        ["Cross slope", W.isNumber(p.cross_slope_deg) && p.cross_slope_deg.toFixed(1) + "\u00b0"]] };
    },
    locates: function (site, p) {
      return { title: "Locate " + (p.point || ""), rows: [["What it is", p.feature && W.words(p.feature)],
        ["Wire", p.run], ["Zone", p.zone], ["Placed by", p.placed_by], ["Position error", rms(p)],
        ["Date", p.date], ["Located by", p.operator], ["Box", p.box], ["Photo", p.photo],
        ["Note", p.note], ["From", p.source_file && p.source_file + " row " + p.source_row]] };
    },
    findings: function (site, p) {
      return { title: W.words(p.code || "Finding"), rows: [["About", p.subject], ["Found", W.sentence(p.message)],
        ["What to do", W.sentence(p.advice)],
        ["From", p.source_file && p.source_file + (p.source_row ? " row " + p.source_row : "")]] };
    },
    dig_buffer: function (site, p) {
      return { title: "Dig by hand: band of wire " + (p.run || ""), rows: [
        ["Half width", W.isNumber(p.half_width_m) && W.distance(p.half_width_m)],
        ["Least cover", W.isNumber(p.cover_low_m) && W.depth(p.cover_low_m, Math.floor)],
        ["Caution", p.advisory || site.facts.caution]] };
    },
    wires: function (site, p, near) {
      var rows = [];
      var here = near && W.wireHere(site, p, near);
      if (here) {
        rows.push(["Depth here", band(site, here)],
          ["Cover may be as little as", W.isNumber(here.cover) && W.depth(Math.max(0, here.cover), Math.floor)],
          ["Known by", W.own(EVIDENCE, here.evidence)],
          ["Position error", W.isNumber(here.rms) && W.distance(here.rms) + " (RMS)"],
          ["From its start", W.isNumber(here.chainage) && W.distance(here.chainage)]);
      }
      rows.push(["Zone", W.parts(p.zones).join(", ")], ["Controller", p.controller],
        ["Depths read", W.isNumber(p.depth_min_m) && W.depth(p.depth_min_m) + " to " +
          W.depth(p.depth_max_m) + " (" + (p.depth_count || 0) + " readings)"],
        ["Length", W.isNumber(p.length_m) && W.distance(p.length_m)],
        ["Ends", W.own(END, p.end_kind)], ["Seen", dates(p)]);
      return { title: "Wire " + (p.run || "") + zoneWords(p.zones), rows: rows };
    },
  };

  function zoneWords(zones) {
    var named = W.parts(zones);
    return named.length ? ", zone" + (named.length > 1 ? "s " : " ") + named.join(", ") : "";
  }
  function band(site, p) {
    return W.isNumber(p.depth_m) ? W.depthBand(site, p.depth_m, p.depth_sigma_m) : null;
  }
  function rms(p) {
    return W.isNumber(p.position_rms_m) && W.distance(p.position_rms_m) + " (RMS)";
  }
  function along(length, sigma) {
    if (!W.isNumber(length)) return null;
    return W.distance(length) + (W.isNumber(sigma) ? " \u00b1 " + W.distance(1.96 * sigma) : "");
  }
  function dates(p) {
    var a = (p.first_date || "").slice(0, 10), b = (p.last_date || "").slice(0, 10);
    return a && b && a !== b ? a + " to " + b : b || a;
  }

  /* What is known of a wire at a place along it. */
  W.wireHere = function (site, p, near) {
    var c = p.chainage || [], i = near.piece;
    var chainage = W.isNumber(c[i]) && W.isNumber(c[i + 1])
      ? c[i] + near.share * (c[i + 1] - c[i]) : null;
    var here = { chainage: chainage, cover: (p.cover || [])[i], rms: (p.rms || [])[i],
      evidence: (p.evidence || "")[i], depth_m: null, depth_sigma_m: (p.sigma || [])[i] };
    var curve = W.own(site.profiles.depth, p.run);
    if (curve && W.isNumber(chainage)) {
      var k = 0;
      while (k + 2 < curve[0].length && curve[0][k + 1] < chainage) k++;
      var span = curve[0][k + 1] - curve[0][k] || 1, t = (chainage - curve[0][k]) / span;
      if (t >= 0 && t <= 1 && W.isNumber(curve[1][k]) && W.isNumber(curve[1][k + 1])) {
        here.depth_m = curve[1][k] + t * (curve[1][k + 1] - curve[1][k]);
        here.depth_sigma_m = curve[2][k] + t * (curve[2][k + 1] - curve[2][k]);
        return here;
      }
    }
    var d = p.depth || [];
    if (W.isNumber(d[i]) && W.isNumber(d[i + 1])) here.depth_m = d[i] + near.share * (d[i + 1] - d[i]);
    return here;
  };

  /* Ties in words: so far from this corner, so far from that. */
  W.ties = function (site, f) {
    var name = { valves: "valve", splices: "splice", faults: "fault", controllers: "controller" }[f.layer];
    if (!name) return [];
    return (site.tables.ties || []).filter(function (t) {
      return t.layer === f.layer && t.feature_id === f.properties[name];
    }).map(function (t) {
      return W.distance(t.distance_a_m) + " from " + t.reference_a + ", " +
        W.distance(t.distance_b_m) + " from " + t.reference_b +
        (t.side ? ", on the " + t.side + " facing the second from the first" : "") +
        (t.source ? " (" + t.source + ")" : "") + behind(t);
    });
  };

  /* References that a building hides: their distance is right, but no tape reaches. */
  function behind(t) {
    var hidden = [t.blocked_a && t.reference_a, t.blocked_b && t.reference_b].filter(Boolean);
    return hidden.length ? "; a building stands between it and " + hidden.join(" and ") : "";
  }

  W.showCard = function (site, found, index, options) {
    var pick = found[index || 0];
    var f = pick.feature;
    site.card = { found: found, index: index || 0 };
    var read = READERS[f.layer](site, f.properties, pick.near);
    var chainage = f.layer === "wires" && pick.near
      ? W.wireHere(site, f.properties, pick.near).chainage : f.properties.chainage_m;
    var heading = W.el("h2", { tabindex: "-1", dir: "auto" }, read.title);
    var body = W.el("div", { class: "wm-card-body" },
      W.el("dl", {}, read.rows.filter(function (row) { return row[1]; }).map(function (row) {
        return W.el("div", {}, W.el("dt", {}, row[0]), W.el("dd", { dir: "auto" }, row[1]));
      })),
      W.ties(site, f).map(function (tie) { return W.el("p", { class: "wm-tie", dir: "auto" }, tie); }),
      alsoHere(site, found, index || 0),
      f.properties.run ? [W.depthProfile(site, f.properties.run, chainage),
        W.toneProfile(site, f.properties.run, chainage)] : null,
      W.el("p", { class: "wm-card-caution" }, "Advisory only, not a utility locate."));
    W.clear(site.cardNode);
    W.append(site.cardNode, [W.el("header", {},
      W.el("span", { class: "wm-card-mark" }, sample(site, f)), heading,
      W.el("button", { type: "button", class: "wm-close", "aria-label": "Close",
        onclick: function () { W.hideCard(site); } }, W.icon("close"))), body]);
    site.cardNode.hidden = false;
    W.ring(site, pick);
    if (!options || options.focus !== false) heading.focus({ preventScroll: true });
  };

  function sample(site, f) {
    if (f.layer === "wires") return W.stub(f.properties.zones);
    if (f.layer === "dig_buffer") return W.glyph(site.facts.styles.dig_buffer);
    return W.glyph(W.pointStyle(site, f),
      f.layer === "valves" ? " wm-zoned " + W.ink(f.properties.zone).css : "");
  }

  function alsoHere(site, found, index) {
    if (found.length < 2) return null;
    return W.el("nav", { class: "wm-also", "aria-label": "Also here" },
      W.el("h3", {}, "Also here"),
      W.el("ul", {}, found.slice(0, 12).map(function (other, i) {
        if (i === index) return null;
        var read = READERS[other.feature.layer](site, other.feature.properties, other.near);
        return W.el("li", {}, W.el("button", { type: "button", dir: "auto",
          onclick: function () { W.showCard(site, found, i); } },
        sample(site, other.feature), W.short(read.title, 60)));
      })),
      found.length > 12 ? W.el("p", {}, found.length - 12 + " more; zoom in to tell them apart") : null);
  }

  /* Move the map where the card would hide what was picked. */
  function uncover(site, latlng) {
    var box = site.map.getContainer().getBoundingClientRect();
    var card = site.cardNode.getBoundingClientRect();
    var p = site.map.latLngToContainerPoint(latlng);
    var x = p.x + box.left, y = p.y + box.top, room = 30;
    if (x < card.left - room || x > card.right + room || y < card.top - room) return;
    var wide = card.width < box.width * 0.8;
    site.map.panBy(wide ? [x - (card.left - 60), 0]
      : [0, y - (box.top + Math.max(40, (card.top - box.top) / 2))], { animate: false });
  }

  W.hideCard = function (site) {
    if (!site.cardNode || site.cardNode.hidden) return;
    site.cardNode.hidden = true;
    site.card = null;
    if (site.ringLayer) site.ringLayer.remove();
    site.map.getContainer().focus({ preventScroll: true });
  };

  /* A ring round what was picked. */
  W.ring = function (site, pick) {
    if (site.ringLayer) site.ringLayer.remove();
    site.ringLayer = null;
    var f = pick.feature, at = null;
    if (f.geometry && f.geometry.type === "Point") at = f.geometry.coordinates;
    else if (f.layer === "wires" && pick.near) {
      var a = f.geometry.coordinates[pick.near.piece], b = f.geometry.coordinates[pick.near.piece + 1];
      at = [a[0] + pick.near.share * (b[0] - a[0]), a[1] + pick.near.share * (b[1] - a[1])];
    }
    if (!at) return;
    uncover(site, L.latLng(at[1], at[0]));
    site.ringLayer = L.circleMarker([at[1], at[0]], { radius: 15, className: "wm-ring", fill: false,
      weight: 3, color: "#9a5b2e", interactive: false, pane: "wiremap-valves",
      renderer: site.ringRenderer }).addTo(site.map);
  };
})(wiremap);
