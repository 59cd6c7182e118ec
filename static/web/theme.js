// Runs before the first paint: the person's choice of bright or dim, kept on this device.
(() => {
  const kept = localStorage.getItem("isokom-theme");
  if (kept === "light" || kept === "dark") document.documentElement.dataset.theme = kept;
})();
