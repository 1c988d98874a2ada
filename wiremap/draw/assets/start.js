/* Opens the record on its map. */
"use strict";
(function (W) {
  W.start = function (map) {
    var site = W.site(map), options = site.options;
    map.setMaxZoom(24);
    L.Icon.Default.imagePath = "";
    var image = W.read("data-aerial", null);
    site.aerial = image ? W.drawAerial(site, image).addTo(map) : null;
    map.getContainer().classList.toggle("wm-imaged", Boolean(image));
    site.base = W.read("data-base", []).length ? W.drawBase(site).addTo(map) : null;
    site.ringRenderer = L.svg({ pane: map.createPane("wiremap-ring"), padding: 0.6 });
    map.getPane("wiremap-ring").style.zIndex = 500;
    map.getPane("wiremap-ring").style.pointerEvents = "none";
    site.cardNode = W.el("section", { class: "wm-card", role: "dialog", hidden: "",
      "aria-label": "What the record says here" });
    site.live = W.el("div", { class: "wm-live", role: "status" });
    L.DomEvent.disableClickPropagation(site.cardNode);
    L.DomEvent.disableScrollPropagation(site.cardNode);
    if (options.page) openPage(site);
    W.append(site.main || map.getContainer(), [site.cardNode, site.live]);
    listen(site);
    if (options.tiles) background(site, options.tiles);
    W.fit(site, false);
    W.settleTags(site);
    document.documentElement.setAttribute("data-wiremap", "ready");
  };

  function openPage(site) {
    document.documentElement.classList.add("wm-page");
    var box = site.map.getContainer();
    box.setAttribute("role", "application");
    box.setAttribute("aria-label", "Map of the wires. Arrow keys move it, plus and minus zoom, " +
      "Enter tells what is in the middle.");
    site.map.attributionControl && site.map.attributionControl.remove();
    var full = W.el("details", { class: "wm-caution" },
      W.el("summary", {}, "Not a utility locate. Call before you dig."),
      W.el("p", {}, site.facts.caution));
    site.main = W.el("main", { class: "wm-main", "aria-label": "Map and its tools" });
    document.body.insertBefore(site.main, box);
    W.append(site.main, [box, full]);
    W.buildPanel(site);
    W.buildTools(site);
    W.buildScale(site);
    W.buildPrint(site);
    W.listenTools(site);
    site.map.invalidateSize({ animate: false });
  }

  function listen(site) {
    site.map.on("click", function (event) {
      if (site.measuring) { W.measureTap(site, event.latlng); return; }
      open(site, event.latlng, false);
    });
    site.map.on("zoomend moveend", function () { W.settleTags(site); });
    site.map.on("wiremapthin", function (event) {
      var place = document.querySelector(".wm-thin[data-layer=" + event.layer + "]");
      if (place) place.textContent = event.shown + " drawn at this zoom; zoom in for all";
    });
    site.map.getContainer().addEventListener("keydown", function (event) {
      if (event.key === "Enter" && event.target === site.map.getContainer()) {
        open(site, site.map.getCenter(), true);
      }
    });
    document.addEventListener("keydown", function (event) {
      if (event.key === "Escape") W.hideCard(site);
    });
    W.listeners.push(function () {
      if (site.card) W.showCard(site, site.card.found, site.card.index, { focus: false });
    });
    window.addEventListener("resize", function () { site.map.invalidateSize({ animate: false }); });
  }

  function open(site, latlng, focus) {
    var found = W.pick(site, latlng);
    if (found.length) W.showCard(site, found, 0, { focus: focus });
    else {
      W.hideCard(site);
      if (focus) W.say(site, "Nothing recorded in the middle of the map");
    }
  }

  /* An online background, where one was asked for; a tile that does not come stays blank. */
  function background(site, address) {
    L.tileLayer(address, { maxZoom: 24, maxNativeZoom: 19, errorTileUrl: "" }).addTo(site.map);
    W.append(site.main || site.map.getContainer(), W.el("p", { class: "wm-credit" },
      "Background from " + address.split("/")[2].replace("{s}.", "")));
  }
})(wiremap);
