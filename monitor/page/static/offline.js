// With scripts on: what is written without a connection waits on the phone, and is handed in once, in order.
"use strict";

(() => {
  const box = document.getElementById("waiting");
  if (!box || !window.indexedDB || !window.fetch) return;
  const BEAT_MS = 4000, PATIENCE_MS = 4000, ANSWER_MS = 10000, LEASE_MS = 15000, AT_ONCE_MS = 8000;
  const KEPT = /^\/(bins|cohorts|places|alarms|logbook)\//;
  const OWN = new Set(["form_token", "mark", "made_at_ms", "sent_at_ms"]);
  const words = JSON.parse(box.dataset.words), who = box.dataset.who, root = document.documentElement;
  const language = root.lang === "en" ? "en-GB" : root.lang;
  const say = (key, values = {}) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const named = (each) => each.slice(each.indexOf(":") + 1) || each;
  const random = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  const made = (tag, text, attributes = {}) => Object.assign(document.createElement(tag), { textContent: text }, attributes);

  // What waits, in the browser's own database: it outlives the tab.
  const opened = new Promise((resolve, reject) => {
    const asked = indexedDB.open("rearing", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("lease");
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  opened.catch(() => {});
  const within = async (name, mode, work) => {
    const base = await opened;
    return new Promise((resolve, reject) => {
      const transaction = base.transaction(name, mode), out = {};
      work(transaction.objectStore(name), out);
      transaction.oncomplete = () => resolve(out.request ? out.request.result : out.value);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  };
  const ask = (mode, work) => within("waiting", mode, (store, out) => { out.request = work(store); });
  const all = () => ask("readonly", (store) => store.getAll());
  const one = (id) => ask("readonly", (store) => store.get(id));
  const put = (item) => ask("readwrite", (store) => store.put(item));
  const remove = (id) => ask("readwrite", (store) => store.delete(id));
  // Only one tab hands in: whoever holds the lease. The marks would hold even if two did.
  const me = random();
  const lease = (length) => within("lease", "readwrite", (store, out) => {
    const known = store.get("hand");
    known.onsuccess = () => {
      const held = known.result, now = Date.now();
      out.value = !held || held.who === me || held.until < now || held.until > now + LEASE_MS;
      if (out.value) store.put({ who: me, until: now + length }, "hand");
    };
  });

  const timed = async (address, options, patience) => {
    const control = new AbortController(), timer = setTimeout(() => control.abort(), patience);
    try { return await fetch(address, { credentials: "same-origin", cache: "no-store", signal: control.signal, ...options }); }
    finally { clearTimeout(timer); }
  };
  // Whose session this is; null without a connection.
  const whose = async () => {
    try { return await (await timed("/session", { headers: { accept: "application/json" } }, PATIENCE_MS)).json(); } catch { return null; }
  };
  const post = async (item, token) => {
    const body = new URLSearchParams(item.fields.filter(([name]) => !OWN.has(name)));
    body.set("form_token", token);
    body.set("mark", item.mark);
    // What is handed in at once has the time that the server sees.
    if (item.tries || Date.now() - item.made > AT_ONCE_MS) {
      body.set("made_at_ms", item.made);
      body.set("sent_at_ms", Date.now());
    }
    try {
      const answer = await timed(item.path, { method: "POST", body, headers: { accept: "application/json" } }, ANSWER_MS);
      const type = answer.headers.get("content-type") || "";
      if (type.startsWith("application/json")) return await answer.json();
      return answer.status >= 400 && answer.status < 500 ? { state: "refused", said: [await answer.text()] } : null;
    } catch { return null; }
  };

  // Handing in.
  const subject = (item) => item.path.split("/").slice(0, 3).join("/");
  const led = new Map();
  const handAll = async () => {
    if (!(await lease(LEASE_MS))) return;
    try {
      const now = await whose(), held = new Set();
      connected = now !== null;
      live = connected && !root.dataset.kept;
      if (!now || !now.who) return;
      session = now;
      for (const { id } of await all()) {
        const item = await one(id);
        if (!item || item.who !== session.who) continue;
        // What follows on something that is asked waits for the answer.
        if (item.state !== "waiting" || held.has(subject(item))) { held.add(subject(item)); continue; }
        if (!(await lease(LEASE_MS))) return;
        const answer = await post(item, session.form_token);
        const kept = await one(id);
        if (!kept) continue;
        if (!answer || answer.state === "later" || answer.state === "login") { await put({ ...kept, tries: kept.tries + 1 }); return; }
        if (answer.state === "done") { led.set(id, answer.to); await remove(id); continue; }
        led.set(id, answer);
        held.add(subject(item));
        await put({ ...kept, state: answer.state, said: answer.said, tries: kept.tries + 1 });
      }
    } finally { await lease(0); await show(); }
  };
  let running = null;
  const handIn = () => running || (running = handAll().catch(() => {}).finally(() => { running = null; }));

  // Showing what waits.
  let items = [], connected = true, live = !root.dataset.kept, session = null;
  let fresh = root.dataset.kept ? Number(root.dataset.kept) : Date.now();
  const clock = new Intl.DateTimeFormat(language, { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const age = (ms) => {
    const minutes = Math.floor(ms / 60000), [unit, count] = minutes < 120 ? ["minute", minutes] : minutes < 2880 ? ["hour", Math.floor(minutes / 60)] : ["day", Math.floor(minutes / 1440)];
    return minutes < 1 ? words.moment : new Intl.NumberFormat(language, { style: "unit", unit, unitDisplay: "long" }).format(count);
  };
  const line = made("p", "", { className: "said gone", hidden: true }), list = document.createElement("details"), count = made("summary", ""), rows = document.createElement("ol");
  line.setAttribute("role", "status");
  list.append(count, rows);
  box.append(line, list);
  const draw = () => {
    root.classList.toggle("stale", !live);
    line.hidden = live;
    const text = live ? "" : say("gone", { age: age(Date.now() - fresh) });
    if (line.textContent !== text) line.textContent = text;
    const other = items.find((item) => session && item.who !== session.who);
    const asks = items.some((item) => item.state !== "waiting");
    count.textContent = [say("count", { count: items.length }), other ? say("log_in", { who: named(other.who) }) : "", asks ? words.asks : ""].filter(Boolean).join(" ");
    list.hidden = !items.length;
    box.hidden = live && !items.length;
  };
  const row = (item) => {
    const entry = document.createElement("li"), buttons = made("p", "", { className: "buttons" });
    // Somebody else who has the phone now reads nothing of it.
    if (item.who !== who) { entry.append(made("p", say("of", { who: named(item.who), at: clock.format(item.made) }))); return entry; }
    entry.append(made("p", `${item.words} · ${clock.format(item.made)}`, { className: "what" }), ...item.lines.map((text) => made("p", text)), ...(item.said || []).map((text) => made("p", text, { className: "fault" })));
    const button = (word, work) => { const each = made("button", word, { className: "quiet", type: "button" }); each.addEventListener("click", work); buttons.append(each); };
    if (item.state !== "waiting") button(words.answer, () => answerTo(item));
    if (item.html) button(words.edit, () => edit(item, entry));
    button(words.delete, async () => { if (confirm(say("sure", { what: item.words }))) { await remove(item.id); await show(); } });
    entry.append(buttons);
    return entry;
  };
  let shown = "";
  const show = async () => {
    items = await all().catch(() => []);
    const now = JSON.stringify(items);
    if (now !== shown && !rows.querySelector("form")) { shown = now; rows.replaceChildren(...items.map(row)); }
    draw();
  };
  const edit = (item, entry) => {
    const form = new DOMParser().parseFromString(item.html, "text/html").querySelector("form");
    form.removeAttribute("action");
    form.dataset.edits = "yes";
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const now = await one(item.id);
      form.remove();
      shown = "";
      if (now) await put({ ...now, ...told(form, null), words: item.words, state: "waiting", said: [] });
      await show();
      handIn();
    });
    entry.replaceChildren(made("p", item.words, { className: "what" }), form);
    const first = form.querySelector("input:not([type=hidden]), select");
    if (first) first.focus();
  };
  const answerTo = async (item) => {
    const now = await whose();
    const answer = now && now.who === item.who ? await post(item, now.form_token) : null;
    if (!answer) { live = now !== null; draw(); return; }
    if (answer.state === "done") { await remove(item.id); location.assign(answer.to); return; }
    page(answer);
  };
  const page = (answer) => {
    if (!answer.page) return;
    const next = new DOMParser().parseFromString(answer.page, "text/html");
    document.title = next.title;
    document.querySelector("main").replaceChildren(...next.querySelector("main").childNodes);
    scrollTo(0, 0);
  };

  // Forms. What they say is kept before it is sent, so that nothing eats it.
  const told = (form, submitter) => {
    const fields = [...new FormData(form)].filter(([, value]) => typeof value === "string");
    if (submitter && submitter.name) fields.push([submitter.name, submitter.value]);
    const seen = [...form.elements].filter((each) => each.name && each.type !== "hidden" && each.tagName !== "BUTTON");
    seen.forEach((each) => {
      if (each.type === "checkbox" || each.type === "radio") each.toggleAttribute("checked", each.checked);
      else if (each.tagName === "SELECT") [...each.options].forEach((option) => option.toggleAttribute("selected", option.selected));
      else each.setAttribute("value", each.value);
    });
    const label = (each) => {
      const copy = each.closest("label") ? each.closest("label").cloneNode(true) : made("p", each.name);
      copy.querySelectorAll("select, input").forEach((inner) => inner.remove());
      return copy.textContent.replace(/\s+/g, " ").trim().slice(0, 60);
    };
    const value = (each) => each.tagName === "SELECT" ? each.selectedOptions[0].textContent : each.value;
    const lines = seen.filter((each) => each.value && each.name !== "at" && (each.type !== "checkbox" || each.checked) && (each.tagName !== "SELECT" || each.value))
      .map((each) => (each.type === "checkbox" ? label(each) : `${label(each)}: ${value(each)}`));
    return { fields, lines: lines.map((text) => text.slice(0, 200)), html: seen.length ? form.outerHTML : "" };
  };
  const heading = (form, submitter) => {
    const button = submitter || form.querySelector("button"), title = form.classList.contains("entry") ? document.querySelector("main h1") : null;
    return (title || button || form).textContent.replace(/\s+/g, " ").trim().slice(0, 120);
  };
  const note = (form, text) => {
    const before = form.previousElementSibling;
    if (before && before.classList.contains("kept")) before.remove();
    const said = made("p", text, { className: "said kept" });
    said.setAttribute("role", "status");
    form.before(said);
  };
  const settle = async (id) => {
    for (const end = Date.now() + ANSWER_MS; Date.now() < end;) {
      await handIn();
      const item = await one(id);
      if (!item) return { state: "done", to: typeof led.get(id) === "string" ? led.get(id) : "" };
      if (item.state !== "waiting") { await remove(id); return led.get(id) || item; }
      if (!connected || (session && session.who !== who) || item.tries || items.some((each) => each.id < id && each.tries)) return null;
      await new Promise((resolve) => { setTimeout(resolve, 300); });
    }
    return null;
  };
  const keep = async (form, path, submitter) => {
    const data = new FormData(form), before = items.find((item) => item.mark === data.get("mark") && item.who === who);
    const item = { path, who, state: "waiting", said: [], tries: 0, mark: random(), made: Date.now(), words: heading(form, submitter), ...told(form, submitter) };
    if (before) Object.assign(item, { id: before.id, mark: before.mark, made: before.made, tries: before.tries + 1, words: before.words, html: item.html || before.html, lines: item.lines.length ? item.lines : before.lines });
    form.querySelectorAll("button").forEach((button) => { button.disabled = true; });
    const id = await put(item).catch(() => null);
    if (id === null) { await alone(form, item); return; }
    const answer = await settle(id);
    await show();
    if (answer && answer.state === "done") {
      const leave = form.querySelector("a[href]"), to = answer.to || (leave ? leave.href : location.href);
      if (new URL(to, location).pathname + new URL(to, location).search === location.pathname + location.search) location.reload(); else location.assign(to);
    } else if (answer && answer.page) page(answer);
    else {
      note(form, say("kept", { what: item.words }));
      if (item.html) { form.reset(); form.querySelectorAll("button").forEach((button) => { button.disabled = false; }); }
      beat();
    }
    delete form.dataset.busy;
  };
  // A browser that keeps nothing: sent at once, or it stays as it was typed.
  const alone = async (form, item) => {
    const now = await whose(), answer = now && now.who ? await post(item, now.form_token) : null;
    form.querySelectorAll("button").forEach((button) => { button.disabled = false; });
    delete form.dataset.busy;
    if (answer && answer.state === "done") location.assign(answer.to); else if (answer && answer.page) page(answer); else note(form, words.not_sent);
  };
  const through = async (form, submitter) => {
    if (await whose()) { form.dataset.through = "yes"; form.requestSubmit(submitter); delete form.dataset.through; } else note(form, words.not_sent);
    delete form.dataset.busy;
  };
  document.addEventListener("submit", (event) => {
    const form = event.target, path = new URL(form.getAttribute("action") || location.href, location).pathname;
    if (event.defaultPrevented || (form.getAttribute("method") || "").toLowerCase() !== "post" || form.dataset.through) return;
    event.preventDefault();
    if (form.dataset.busy || form.dataset.edits) return;
    if (path === "/logout" && items.length && !confirm(say("leave", { count: items.length }))) return;
    form.dataset.busy = "yes";
    const submitter = event.submitter, changes = submitter && submitter.name === "change";
    const files = form.querySelector("input[type=file]");
    if (who && KEPT.test(path) && !changes && !files) keep(form, path, submitter); else through(form, submitter);
  });
  // Without a connection a link leads to an error of the browser, and the open page is lost.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (live || !link || link.origin !== location.origin || (link.pathname === location.pathname && link.hash)) return;
    if (navigator.serviceWorker && navigator.serviceWorker.controller) return;
    event.preventDefault();
    line.textContent = words.no_page;
    line.hidden = false;
  });

  // A page that was kept stays one, however good the connection is, until it is loaded anew.
  const renew = () => {
    const typing = document.querySelector("main form") && document.activeElement && document.activeElement.matches("input, select, textarea");
    if (!typing && !document.querySelector("form[data-busy]") && !rows.querySelector("form")) location.reload();
  };

  // Whether the page is live.
  const beat = async () => {
    if (document.hidden) return;
    const now = await whose();
    connected = now !== null;
    live = connected && !root.dataset.kept;
    if (now) session = now;
    await show();
    if (connected && items.some((item) => item.who === now.who && item.state === "waiting")) await handIn();
    if (connected && root.dataset.kept) renew();
  };
  document.addEventListener("fresh", () => { fresh = Date.now(); delete root.dataset.kept; });
  document.addEventListener("visibilitychange", beat);
  for (const name of ["online", "offline", "pageshow"]) addEventListener(name, beat);
  setInterval(beat, BEAT_MS);
  if (!live) draw();
  beat();
})();
