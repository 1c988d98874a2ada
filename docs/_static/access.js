/* Names and keyboard access that the theme leaves out: its two drawers, and code that scrolls. */
"use strict";
document.addEventListener("DOMContentLoaded", function () {
  [[".sidebar-drawer", "Pages"], [".toc-drawer", "On this page"]].forEach(function (drawer) {
    var node = document.querySelector(drawer[0]);
    if (node) node.setAttribute("aria-label", drawer[1]);
  });
  document.querySelectorAll("pre").forEach(function (block) { block.tabIndex = 0; });
});
