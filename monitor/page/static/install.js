// Over HTTPS or localhost: the page can be installed, and what may be needed in the yard is fetched ahead.
"use strict";

(() => {
  if (!navigator.serviceWorker || !isSecureContext) return;
  const root = document.documentElement, box = document.getElementById("waiting"), OFTEN_MS = 1800000;
  navigator.serviceWorker.register("/sw.js").catch(() => {});
  if (!box || !box.dataset.who || root.dataset.kept) return;
  const last = Number(sessionStorage.getItem("ahead") || 0);
  if (location.pathname !== "/" || Date.now() - last < OFTEN_MS) return;
  navigator.serviceWorker.ready.then(({ active }) => {
    const links = [...document.querySelectorAll("nav a[href], main a[href]")].filter((link) => link.origin === location.origin);
    const ahead = [location.href, ...links.map((link) => link.pathname + link.search)];
    active.postMessage({ ahead: [...new Set(ahead)] });
    sessionStorage.setItem("ahead", String(Date.now()));
  });
})();
