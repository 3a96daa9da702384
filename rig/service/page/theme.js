"use strict";
// Runs before the first paint, so that a chosen dark page never flashes white.
(function () {
  const chosen = localStorage.getItem("cvrig-theme");
  if (chosen === "light" || chosen === "dark") document.documentElement.dataset.theme = chosen;
})();
