// Only over HTTPS or localhost: pages last seen open without a connection, marked with when they were seen.
// A page that came from here is never taken for a live one: offline.js reads the mark and greys what it shows.
"use strict";

const PAGES = "pages-1", FILES = "files-1", NOTHING = "/not-kept", WHO = "/kept-for";
const PATIENCE_MS = 4000, MOST_PAGES = 150, MOST_AHEAD = 90;
const LEADS = /^\/(?:(bins|cohorts)(\/[^/]+)?|yields)$/, ENTRY = /href="(\/(?:(?:bins|cohorts|cages)\/[^"#]+|places\/[^"#?/]+\/write[^"#]*))"/g;
const NEVER = /^\/(login|logout|phone|join|a|live|session|static|farm-ca\.crt|sw\.js|me)(\/|$)/;
let era = 0;

const forget = async () => { era += 1; await caches.delete(PAGES); };
const keepable = (url) => url.origin === location.origin && !NEVER.test(url.pathname) && !url.searchParams.has("command");
const key = (url) => { const plain = new URL(url); plain.hash = ""; return plain.href; };

// Of one session only: whose pages lie here is kept beside them.
const belongs = async (pages, who) => {
  const known = await pages.match(WHO);
  return !known || (await known.text()) === who;
};
const plain = (text) => text.replace(/&(#39|#34|quot|lt|gt|amp);/g, (_, name) => ({ "#39": "'", "#34": '"', quot: '"', lt: "<", gt: ">", amp: "&" })[name]);
const RULES = "content-security-policy";
const keep = async (url, answer, began) => {
  const text = await answer.text(), who = plain((text.match(/ data-who="([^"]*)"/) || [])[1] || "");
  if (!who || began !== era) return;
  let pages = await caches.open(PAGES);
  if (!(await belongs(pages, who))) { await forget(); pages = await caches.open(PAGES); } else if (began !== era) return;
  await pages.put(WHO, new Response(who));
  await pages.put(key(url), new Response(text, { headers: { "content-type": "text/html; charset=utf-8", "x-kept": String(Date.now()), [RULES]: answer.headers.get(RULES) } }));
  const all = await pages.keys();
  for (const old of all.slice(0, Math.max(0, all.length - MOST_PAGES))) {
    const path = new URL(old.url).pathname;
    if (path !== "/" && path !== WHO) await pages.delete(old);
  }
};

// What an answer of the server means for what is kept, before it is passed on.
const seen = async (url, answer, began) => {
  if (answer.type === "opaqueredirect") return;
  const landed = new URL(answer.url || url);
  if (landed.pathname === "/login") await forget();
  else if (answer.ok && keepable(landed) && (answer.headers.get("content-type") || "").startsWith("text/html")) await keep(landed, answer, began);
};

const kept = async (url) => {
  const pages = await caches.open(PAGES), files = await caches.open(FILES);
  const found = await pages.match(key(url));
  const page = found || (await files.match(NOTHING));
  if (!page) return Response.error();
  const text = (await page.text()).replace(/<html /, `<html data-kept="${page.headers.get("x-kept") || Date.now()}" `);
  return new Response(text, { headers: { "content-type": "text/html; charset=utf-8", "cache-control": "no-store", [RULES]: page.headers.get(RULES) } });
};

// A navigation cannot be given up; it is only no longer waited for.
const within = (request, length) => new Promise((resolve, reject) => {
  setTimeout(reject, length);
  fetch(request).then(resolve, reject);
});

const opened = async (event, url) => {
  const began = era;
  const has = keepable(url) && (await (await caches.open(PAGES)).match(key(url)));
  try {
    const answer = await (has ? within(event.request, PATIENCE_MS) : fetch(event.request));
    // A web server in front that does not reach the page.
    if (has && answer.status >= 502) return kept(url);
    event.waitUntil(seen(url, answer.clone(), began).catch(() => {}));
    return answer;
  } catch { return kept(url); }
};

const file = async (request) => {
  const files = await caches.open(FILES), known = await files.match(request);
  if (known) return known;
  let answer = null;
  try { answer = await fetch(request); } catch { /* no connection */ }
  // A page that was kept asks for the files of its own time; later ones are better than none.
  if (!answer || answer.status >= 502) return (await files.match(request, { ignoreSearch: true })) || answer || Response.error();
  if (answer.ok && !(answer.headers.get("content-type") || "").startsWith("text/html")) {
    // One version of each file: its address has it behind the question mark.
    const path = new URL(request.url).pathname;
    for (const old of await files.keys()) if (new URL(old.url).pathname === path) await files.delete(old);
    await files.put(request, answer.clone());
  }
  return answer;
};

const session = async (request) => {
  const answer = await fetch(request);
  try {
    const { who } = await answer.clone().json(), pages = await caches.open(PAGES), known = await pages.match(WHO);
    if (typeof who === "string" && known && (await known.text()) !== who) await forget();
  } catch { /* not our answer */ }
  return answer;
};

addEventListener("install", (event) => {
  const first = caches.open(FILES).then(async (files) => {
    const page = await fetch(NOTHING, { credentials: "omit", cache: "no-store" }), text = await page.clone().text();
    if (!page.ok || !text.includes(' data-who="')) throw new Error("not our page");
    await files.put(NOTHING, page);
    const addresses = [...text.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)].map((match) => match[1].replaceAll("&amp;", "&"));
    await Promise.all(addresses.map((address) => file(new Request(address))));
  });
  event.waitUntil(first.then(() => skipWaiting()));
});
addEventListener("activate", (event) => {
  const old = caches.keys().then((names) => Promise.all(names.filter((name) => ![PAGES, FILES].includes(name)).map((name) => caches.delete(name))));
  event.waitUntil(old.then(() => clients.claim()));
});
addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST") {
    if (url.pathname === "/logout" || url.pathname === "/login") event.waitUntil(forget());
    // Whoever has the phone next is told nothing.
    if (url.pathname === "/logout") event.waitUntil(silence());
    return;
  }
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (url.pathname === "/session") event.respondWith(session(request));
  else if (request.mode === "navigate") event.respondWith(opened(event, url));
});

// Pages that are likely to be wanted in the yard, fetched ahead while there is a connection, one by one.
// Those of bins, cohorts and the yield lead to the forms of their entries.
const ahead = async (addresses) => {
  const wanted = [...addresses], known = new Set(wanted), began = era;
  for (let at = 0; at < wanted.length && at < MOST_AHEAD && began === era; at += 1) {
    const url = new URL(wanted[at], location.origin);
    if (!keepable(url)) continue;
    try {
      const answer = await fetch(url, { credentials: "same-origin", cache: "no-store", redirect: "manual" });
      // To the login, which would begin another session under a form that is open.
      if (answer.type === "opaqueredirect") { await forget(); return; }
      const text = await answer.clone().text();
      // What a form needs by itself, such as the script for its photo.
      for (const match of text.matchAll(/ src="(\/static\/[^"]+)"/g)) await file(new Request(plain(match[1])));
      if (LEADS.test(url.pathname)) {
        const links = [...text.matchAll(ENTRY)].map((match) => plain(match[1]));
        for (const link of links) if (!known.has(link)) { known.add(link); wanted.push(link); }
      }
      await seen(url, answer, began);
    } catch { return; }
  }
};
addEventListener("message", (event) => {
  if (event.data && event.data.ahead) event.waitUntil(ahead(event.data.ahead));
});

// Messages while the page is closed. One about the same alarm takes the place of the one before.
const silence = async () => {
  const made = await registration.pushManager.getSubscription();
  if (made) await made.unsubscribe();
};
const ICON = "/static/icon-192.png";
const told = (said, body, more) => registration.showNotification(said.title || location.hostname, {
  body, tag: said.tag || "message", lang: said.lang || "", icon: ICON, badge: ICON, data: said, timestamp: said.at || Date.now(), ...more,
});
addEventListener("push", (event) => {
  let said = {};
  try { said = event.data.json(); } catch { /* shown all the same: a browser ends messages that show nothing */ }
  const actions = said.seen ? [{ action: "seen", title: said.seen.button }] : [];
  event.waitUntil(told(said, said.body || "", { renotify: true, requireInteraction: Boolean(said.stays), actions }));
});
const open = async (path) => {
  const wanted = new URL(path || "/", location.origin), to = wanted.origin === location.origin ? wanted.href : location.origin;
  const tabs = await clients.matchAll({ type: "window" }), there = tabs.find((tab) => tab.url === to) || tabs[0];
  if (!there) return clients.openWindow(to);
  await there.focus().catch(() => {});
  return there.url === to ? there : there.navigate(to).catch(() => clients.openWindow(to));
};
const acknowledge = async (said) => {
  try {
    const answer = await fetch(said.seen.to, { method: "POST", credentials: "same-origin" });
    if (answer.ok) { await told({ ...said, seen: null }, said.seen.done, { silent: true }); return; }
  } catch { /* the farm cannot be reached from here */ }
  await told(said, said.seen.failed, { requireInteraction: true, actions: [{ action: "seen", title: said.seen.button }] });
};
addEventListener("notificationclick", (event) => {
  const said = event.notification.data || {};
  event.notification.close();
  event.waitUntil(event.action === "seen" && said.seen ? acknowledge(said) : open(said.to));
});
// A push service may change the address of a phone by itself.
addEventListener("pushsubscriptionchange", (event) => {
  const renew = async () => {
    const old = event.oldSubscription;
    const made = event.newSubscription || (await registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: old.options.applicationServerKey }));
    const { endpoint, keys } = made.toJSON(), { form_token } = await (await fetch("/session")).json();
    const body = new URLSearchParams({ form_token, old: old.endpoint, endpoint, p256dh: keys.p256dh, auth: keys.auth });
    await fetch("/me/messages", { method: "POST", credentials: "same-origin", headers: { accept: "application/json" }, body });
  };
  event.waitUntil(renew());
});
