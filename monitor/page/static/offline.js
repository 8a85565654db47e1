// With scripts on: what is written without a connection waits on the phone, and is handed in once, in order.
"use strict";

(() => {
  const box = document.getElementById("waiting");
  if (!box || !window.fetch) return;
  const BEAT_MS = 4000, PATIENCE_MS = 4000, ANSWER_MS = 10000, LEASE_MS = 15000, AT_ONCE_MS = 8000, PHOTO_MS = 40000, OPEN_MS = 3000;
  const TWICE_MS = 60000, CLOCK_SET_MS = 120000, LONGEST_PAUSE_MS = 60000, FAILURES_TO_PASS = 3, RENEW_MS = 30000;
  const KEPT = /^\/(?:(?:bins|cohorts|cages|places|alarms|logbook|today)\/|boards\/[^/]+\/in-use$)/;
  const OWN = new Set(["form_token", "mark", "made_at_ms", "sent_at_ms", "clock_set"]), STATES = new Set(["done", "asked", "refused", "later", "login"]);
  const words = JSON.parse(box.dataset.words), who = box.dataset.who, root = document.documentElement, main = document.querySelector("main");
  const language = root.lang === "en" ? "en-GB" : root.lang;
  // A page that was kept may lack a word that this file says.
  const say = (key, values = {}) => (words[key] || "").replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const named = (each) => each.slice(each.indexOf(":") + 1) || words[each.slice(0, each.indexOf(":"))] || each;
  const colon = words.colon || ":";
  // Whose work it is: names as people type them; an owner hands in what the same person made as a helper.
  const mine = (item, name) => {
    const [made, now] = [item.who.toLowerCase(), name.toLowerCase()];
    return made === now || (now.startsWith("owner:") && now.length > 6 && made === `helper:${now.slice(6)}`);
  };
  const random = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  const made = (tag, text, attributes = {}) => Object.assign(document.createElement(tag), { textContent: text }, attributes);

  // What waits, in the browser's own database: it outlives the tab. A browser may have none, or never answer.
  const opened = new Promise((resolve, reject) => {
    setTimeout(reject, OPEN_MS, new Error("no answer"));
    const asked = indexedDB.open("rearing", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("lease");
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  let keeps = true;
  opened.catch(() => { keeps = false; });
  const within = async (name, mode, work) => {
    const base = await opened;
    return new Promise((resolve, reject) => {
      // On disk before it is called kept, where the browser can tell.
      const transaction = base.transaction(name, mode, mode === "readwrite" && name === "waiting" ? { durability: "strict" } : {}), out = {};
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
  // Changed as it stands now, whatever another tab did meanwhile; gives nothing where it is gone.
  const change = (id, work) => within("waiting", "readwrite", (store, out) => {
    const known = store.get(id);
    known.onsuccess = () => {
      if (!known.result) return;
      out.value = work(known.result);
      if (out.value) store.put(out.value); else store.delete(id);
    };
  });
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

  const timed = async (address, options, patience, read) => {
    const control = new AbortController(), timer = setTimeout(() => control.abort(), patience);
    // What stands in between may answer anything, or only begin to: nothing but our own data counts.
    try {
      const answer = await fetch(address, { credentials: "same-origin", cache: "no-store", signal: control.signal, ...options });
      return answer.redirected ? null : await read(answer);
    } catch { return null; } finally { clearTimeout(timer); }
  };
  const data = async (answer) => ((answer.headers.get("content-type") || "").startsWith("application/json") ? answer.json() : null);
  // By how much this phone's clock is ahead of the monitor's, as last heard, and when that was by this clock.
  const clocks = {
    get: (name) => { try { const text = localStorage.getItem(name); return text === null ? null : Number(text); } catch { return null; } },
    heard: (now_ms) => { try { localStorage.setItem("ahead", String(Date.now() - now_ms)); localStorage.setItem("heard", String(Date.now())); } catch { /* not kept */ } },
  };
  let ahead = null;
  // Whose session this is; null without a connection.
  const whose = async () => {
    const now = await timed("/session", { headers: { accept: "application/json" } }, PATIENCE_MS, (answer) => (answer.ok ? data(answer) : null));
    if (!now || typeof now.who !== "string" || typeof now.form_token !== "string") return null;
    if (typeof now.now_ms === "number") { ahead = Date.now() - now.now_ms; clocks.heard(now.now_ms); }
    return now;
  };
  const times = (item) => {
    const found = [["made_at_ms", item.made]], known = typeof item.ahead === "number" && ahead !== null;
    const set = known && Math.abs(item.ahead - ahead) > CLOCK_SET_MS;
    // The clock was set since: it is told by the clock that it was made by, and asked.
    found.push(["sent_at_ms", Math.round(set ? Date.now() - ahead + item.ahead : Date.now())]);
    if (set || item.doubt) found.push(["clock_set", "yes"]);
    return found;
  };
  const patience = (item) => ANSWER_MS + (item.files && item.files.length ? PHOTO_MS : 0);
  const post = async (item, token) => {
    const files = item.files || [], fields = item.fields.filter(([name]) => !OWN.has(name));
    const body = files.length ? new FormData() : new URLSearchParams(fields);
    if (files.length) fields.forEach(([name, value]) => body.append(name, value));
    body.set("form_token", token);
    body.set("mark", item.mark);
    // What is handed in at once has the time that the server sees.
    if (item.tries || Math.abs(Date.now() - item.made) > AT_ONCE_MS) for (const [name, value] of times(item)) body.set(name, value);
    // A photo last: where too much comes, what was typed is there all the same.
    files.forEach(([name, file]) => body.append(name, file, "photo.jpg"));
    const answer = await timed(item.path, { method: "POST", body, headers: { accept: "application/json" } }, patience(item), async (found) => {
      if (found.status === 413) return { state: "refused", said: [(await found.text()).slice(0, 200)] };
      return data(found);
    });
    return answer && STATES.has(answer.state) ? answer : null;
  };

  // Handing in.
  const subject = (item) => item.path.split("/").slice(0, 3).join("/");
  const led = new Map();
  const handAll = async () => {
    if (!(await lease(LEASE_MS))) return;
    try {
      const now = await whose(), held = new Set();
      heard(now);
      if (!now || !now.who) return;
      for (const { id } of await all()) {
        const item = await one(id);
        if (!item || !mine(item, session.who)) continue;
        const left = (item.after || 0) - Date.now(), pauses = left > 0 && left < LONGEST_PAUSE_MS;
        // What follows on something that is asked waits for the answer.
        if (item.state !== "waiting" || held.has(subject(item)) || pauses) { held.add(subject(item)); continue; }
        if (!(await lease(LEASE_MS))) return;
        const answer = await post(item, session.form_token), state = answer ? answer.state : "lost";
        if (state === "lost" || state === "login") { await change(id, (kept) => ({ ...kept, tries: kept.tries + 1 })); return; }
        if (state === "later") {
          // The monitor failed at it: it keeps its place, but holds up the rest no longer when it fails again and again.
          const failed = (item.failed || 0) + 1, after = Date.now() + Math.min(LONGEST_PAUSE_MS - 1, BEAT_MS * 2 ** failed);
          await change(id, (kept) => ({ ...kept, tries: kept.tries + 1, failed, after, said: answer.said || [] }));
          if (failed < FAILURES_TO_PASS) return;
          held.add(subject(item));
          continue;
        }
        led.set(id, state === "done" ? answer.to : answer);
        if (state !== "done") held.add(subject(item));
        // What was changed while it was under way is said again, under the same mark: the monitor tells what stands.
        await change(id, (kept) => {
          if (JSON.stringify(kept.fields) !== JSON.stringify(item.fields)) return { ...kept, tries: kept.tries + 1 };
          return state === "done" ? null : { ...kept, state, said: answer.said || [], tries: kept.tries + 1 };
        });
      }
    } finally { await lease(0); await show(); }
  };
  let running = null;
  const handIn = () => running || (running = handAll().catch(() => {}).finally(() => { running = null; }));

  // Showing what waits.
  let items = [], connected = true, away = false, live = !root.dataset.kept, session = null;
  // A page stays grey until it shows new values; one that does not renew itself has none.
  const heard = (now) => {
    connected = now !== null;
    if (now) session = now;
    if (!connected) away = true;
    else if (away && main.dataset.live) document.dispatchEvent(new Event("back"));
    else away = false;
    live = connected && !away && !root.dataset.kept;
  };
  let fresh = root.dataset.kept ? Number(root.dataset.kept) : Date.now();
  const clock = new Intl.DateTimeFormat(language, { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: box.dataset.zone });
  // By the monitor's clock, as far as this phone has heard of it.
  const ours = (item) => item.made - (item.ahead || 0);
  // A form that asks when shows the time at which it is filled in, not the one at which its page was kept.
  const minute = new Intl.DateTimeFormat("en-GB", { year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: box.dataset.zone });
  const stamp = (form, path, ms) => {
    const { at, at_shown: shown, kind } = form.elements;
    if (!at || !shown || at.value !== shown.value || path.startsWith("/logbook/") || (kind && kind.value === "planned_move")) return;
    const part = Object.fromEntries(minute.formatToParts(ms).map(({ type, value }) => [type, value]));
    const text = `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}`;
    for (const field of [at, shown]) { field.value = text; field.setAttribute("value", text); }
  };
  const age = (ms) => {
    const minutes = Math.floor(ms / 60000), [unit, count] = minutes < 120 ? ["minute", minutes] : minutes < 2880 ? ["hour", Math.floor(minutes / 60)] : ["day", Math.floor(minutes / 1440)];
    return minutes < 1 ? words.moment : new Intl.NumberFormat(language, { style: "unit", unit, unitDisplay: "long" }).format(count);
  };
  const line = made("p", "", { className: "said gone", hidden: true }), list = document.createElement("details"), count = made("summary", ""), rows = document.createElement("ol");
  const login = made("p", "", { hidden: true });
  login.append(made("a", words.login || "", { href: "/login" }));
  line.setAttribute("role", "status");
  list.append(count, rows);
  box.append(line, list, login);
  const draw = () => {
    root.classList.toggle("stale", !live);
    line.hidden = live;
    const old = live ? "" : say(connected && words.back ? "back" : "gone", { age: age(Date.now() - fresh) });
    const text = [old, live || connected || keeps ? "" : words.keeps_nothing].filter(Boolean).join(" ");
    if (line.textContent !== text) line.textContent = text;
    const other = items.find((item) => session && !mine(item, session.who));
    const asks = items.some((item) => item.state !== "waiting");
    login.hidden = !(other && session && !session.who && who);
    count.textContent = [say("count", { count: items.length }), other ? say("log_in", { who: named(other.who) }) : "", asks ? words.asks : ""].filter(Boolean).join(" ");
    // Nor is a change that somebody is typing taken away when what it changes was handed in.
    const nothing = !items.length && !rows.querySelector("form");
    list.hidden = nothing;
    box.hidden = live && nothing;
  };
  const row = (item) => {
    const entry = document.createElement("li"), buttons = made("p", "", { className: "buttons" });
    // Somebody else who has the phone now reads nothing of it.
    if (!mine(item, who)) { entry.append(made("p", say("of", { who: named(item.who), at: clock.format(ours(item)) }))); return entry; }
    const lines = item.files && item.files.length ? [...item.lines, say("photo")] : item.lines;
    entry.append(made("p", `${item.words} · ${clock.format(ours(item))}`, { className: "what" }), ...lines.map((text) => made("p", text)), ...(item.said || []).map((text) => made("p", text, { className: "fault" })));
    const button = (word, work) => {
      const each = made("button", word, { className: "quiet", type: "button" });
      each.append(made("span", `${colon} ${item.words}`, { className: "unseen" }));
      each.addEventListener("click", work);
      buttons.append(each);
    };
    if (item.state !== "waiting") button(words.answer, () => answerTo(item));
    if (item.html) button(words.edit, () => edit(item, entry));
    button(words.delete, async () => { if (confirm([say("sure", { what: item.words }), item.tries ? words.maybe : ""].filter(Boolean).join(" "))) { await remove(item.id); await show(); } });
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
    const form = new DOMParser().parseFromString(item.html, "text/html").querySelector("form"), photo = form.querySelector(".photo");
    if (photo) photo.remove();
    form.removeAttribute("action");
    form.dataset.edits = "yes";
    stamp(form, item.path, ours(item));
    const close = () => { form.remove(); shown = ""; show(); };
    form.querySelectorAll("a[href]").forEach((link) => link.addEventListener("click", (event) => { event.preventDefault(); close(); }));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const changed = { ...told(form, null), files: item.files, words: item.words, state: "waiting", said: [], after: 0 };
      form.remove();
      shown = "";
      const found = await change(item.id, (known) => ({ ...known, ...changed }));
      // It was handed in meanwhile: under the same mark the monitor says what stands.
      if (!found) { const { id, ...rest } = item; await put({ ...rest, ...changed, tries: item.tries + 1 }); }
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
    if (!answer) { heard(now); draw(); return; }
    if (answer.state === "done") { await remove(item.id); location.assign(answer.to); return; }
    page(answer);
  };
  const page = (answer) => {
    if (!answer.page) return;
    const next = new DOMParser().parseFromString(answer.page, "text/html");
    document.title = next.title;
    main.replaceChildren(...next.querySelector("main").childNodes);
    const has = (source) => [...document.scripts].some((each) => each.getAttribute("src") === source);
    for (const source of [...next.scripts].map((each) => each.getAttribute("src"))) if (source && !has(source)) document.head.append(Object.assign(document.createElement("script"), { src: source }));
    delete main.dataset.live;
    scrollTo(0, 0);
  };

  // Forms. What they say is kept before it is sent, so that nothing eats it.
  const told = (form, submitter) => {
    const data = [...new FormData(form)], fields = data.filter(([, value]) => typeof value === "string");
    const files = data.filter(([, value]) => typeof value !== "string" && value.size);
    if (submitter && submitter.name) fields.push([submitter.name, submitter.value]);
    const copy = form.cloneNode(true), copies = [...copy.elements];
    const pairs = [...form.elements].map((each, at) => [each, copies[at]]);
    const seen = pairs.filter(([each]) => each.name && each.type !== "hidden" && each.type !== "file" && each.tagName !== "BUTTON");
    // In the copy, so that the form itself can be set back.
    seen.forEach(([each, twin]) => {
      if (each.type === "checkbox" || each.type === "radio") twin.toggleAttribute("checked", each.checked);
      else if (each.tagName === "SELECT") [...twin.options].forEach((option, at) => option.toggleAttribute("selected", each.options[at].selected));
      else twin.setAttribute("value", each.value);
    });
    const label = (each) => {
      const text = each.closest("label") ? each.closest("label").cloneNode(true) : made("p", each.name);
      text.querySelectorAll("select, input").forEach((inner) => inner.remove());
      return text.textContent.replace(/\s+/g, " ").trim().slice(0, 60);
    };
    const value = (each) => each.tagName === "SELECT" ? each.selectedOptions[0].textContent : each.value;
    const lines = seen.map(([each]) => each).filter((each) => each.value && each.name !== "at" && (each.type !== "checkbox" || each.checked))
      .map((each) => (each.type === "checkbox" ? label(each) : `${label(each)}${colon} ${value(each)}`));
    return { fields, files, lines: lines.map((text) => text.slice(0, 200)), html: seen.length ? copy.outerHTML : "" };
  };
  const touched = (each) => {
    if (each.type === "checkbox" || each.type === "radio") return each.checked !== each.defaultChecked;
    if (each.tagName === "SELECT") return each.selectedIndex !== Math.max(0, [...each.options].findIndex((option) => option.defaultSelected));
    return each.type !== "hidden" && "defaultValue" in each && each.value !== each.defaultValue;
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
  const photos = new Map();
  const settle = async (id) => {
    for (const begun = Date.now(); ;) {
      await handIn();
      const item = await one(id);
      if (!item) return { state: "done", to: typeof led.get(id) === "string" ? led.get(id) : "" };
      if (item.state !== "waiting") { photos.set(item.mark, item.files); return led.get(id) || item; }
      if (Date.now() > begun + patience(item) || !connected || (session && !mine(item, session.who)) || item.tries || items.some((each) => each.id < id && each.tries)) return null;
      await new Promise((resolve) => { setTimeout(resolve, 300); });
    }
  };
  const leave = (form, to) => {
    const link = form.querySelector("a[href]"), goal = new URL(to || (link ? link.href : location.href), location);
    if (goal.pathname + goal.search === location.pathname + location.search) location.reload(); else location.assign(goal);
  };
  // The same again within a minute is a second tap of a wet finger, or another bucket: asked.
  const typed = (item) => JSON.stringify(item.fields.filter(([name]) => !OWN.has(name) && name !== "at" && name !== "at_shown"));
  const twinOf = (item) => items.find((each) => each.who === who && each.path === item.path && each.state === "waiting" && Math.abs(item.made - each.made) < TWICE_MS && typed(each) === typed(item));
  const keep = async (form, path, submitter) => {
    const mark = new FormData(form).get("mark"), before = items.find((item) => item.mark === mark && mine(item, who)), last = clocks.get("heard");
    const item = {
      path, who, state: "waiting", said: [], tries: 0, mark: random(), made: Date.now(), words: heading(form, submitter),
      ahead: clocks.get("ahead"), doubt: last !== null && Date.now() < last - AT_ONCE_MS, ...told(form, submitter),
    };
    if (before) Object.assign(item, { id: before.id, who: before.who, mark: before.mark, made: before.made, ahead: before.ahead, doubt: before.doubt, tries: before.tries + 1, words: before.words, html: item.html || before.html, lines: item.lines.length ? item.lines : before.lines });
    // An answer to what was asked brings the photo that was sent before, unless the server has refused it.
    if (!item.files.length && new FormData(form).get("photo_kept")) item.files = (before ? before.files : photos.get(mark)) || [];
    const twin = before ? null : twinOf(item);
    if (twin && !confirm(say("twice", { at: clock.format(ours(twin)) }))) { delete form.dataset.busy; return; }
    const buttons = [...form.querySelectorAll("button")];
    buttons.forEach((button) => { button.disabled = true; });
    let gone = false;
    try {
      const id = await put(item).catch(() => null);
      if (id === null) { gone = await alone(form, item); return; }
      if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
      const answer = await settle(id);
      await show();
      if (answer && answer.state === "done") { gone = true; leave(form, answer.to); return; }
      if (answer && answer.page && !document.hidden) {
        // The form that is shown now has all that was typed.
        page(answer);
        if (!before) await remove(id);
        await show();
        return;
      }
      note(form, answer ? (answer.said || []).join(" ") || words.asks : say("kept", { what: item.words }));
      if (!answer && item.html) form.reset();
      beat();
    } finally {
      if (!gone) { buttons.forEach((button) => { button.disabled = false; }); delete form.dataset.busy; }
    }
  };
  // A browser that keeps nothing: sent at once, or it stays as it was typed. Gives whether it was done.
  const alone = async (form, item) => {
    keeps = false;
    const own = form.querySelector("[name=mark]"), now = await whose(), may = now && mine(item, now.who);
    // Under the mark of the form itself: sent again after a lost answer, it is known.
    const answer = may ? await post({ ...item, mark: own && own.value ? own.value : item.mark }, now.form_token) : null;
    heard(now);
    draw();
    if (answer && answer.state === "done") { leave(form, answer.to); return true; }
    if (answer && answer.page) page(answer); else note(form, may ? words.no_answer : words.not_sent);
    return false;
  };
  const through = async (form, submitter) => {
    if (await whose()) { form.dataset.through = "yes"; form.requestSubmit(submitter); delete form.dataset.through; } else note(form, words.not_sent);
    delete form.dataset.busy;
  };
  document.addEventListener("submit", (event) => {
    const form = event.target, path = new URL(form.getAttribute("action") || location.href, location).pathname;
    if (event.defaultPrevented || form.dataset.through) return;
    if ((form.getAttribute("method") || "").toLowerCase() !== "post") { if (!connected && !controlled()) { event.preventDefault(); stay(); } return; }
    event.preventDefault();
    if (form.dataset.busy || form.dataset.edits) return;
    if (path === "/logout" && items.length && !confirm(say("leave", { count: items.length }))) return;
    form.dataset.busy = "yes";
    const submitter = event.submitter, changes = submitter && submitter.name === "change";
    // A file that was chosen is sent at once; a photo waits with its form.
    const files = [...form.querySelectorAll("input[type=file]")].some((each) => each.files.length && !each.closest(".photo"));
    if (who && KEPT.test(path) && !changes && !files) keep(form, path, submitter); else through(form, submitter);
  });
  // Without a connection a link leads to an error of the browser, and the open page is lost.
  const controlled = () => Boolean(navigator.serviceWorker && navigator.serviceWorker.controller);
  const stay = () => {
    line.textContent = words.no_page;
    box.hidden = line.hidden = false;
  };
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (event.defaultPrevented || connected || !link || link.origin !== location.origin || (link.pathname === location.pathname && link.hash) || controlled()) return;
    event.preventDefault();
    stay();
  });
  // Nor can it be loaded anew: the browser asks first, where it can.
  addEventListener("beforeunload", (event) => {
    if (!connected && !controlled() && main.querySelector("form[method=post]")) event.preventDefault();
  });

  // A page that was kept stays one, however good the connection is, until it is loaded anew; not while somebody types.
  const renew = () => {
    const forms = [...document.querySelectorAll("main form")], focused = document.activeElement && document.activeElement.matches("main :is(input, select, textarea)");
    if (focused || forms.some((form) => form.dataset.busy || [...form.elements].some(touched)) || rows.querySelector("form")) return;
    try {
      // Where the page itself is too slow to come, it is not asked for again and again.
      if (Math.abs(Date.now() - Number(sessionStorage.getItem("renewed") || 0)) < RENEW_MS) return;
      sessionStorage.setItem("renewed", String(Date.now()));
    } catch { /* loaded anew all the same */ }
    location.reload();
  };

  // Whether the page is live.
  let beats = 0, newest = 0;
  const beat = async () => {
    if (document.hidden) return;
    const number = beats += 1, now = await whose();
    // What comes late says nothing against a newer answer.
    if (number < newest) return;
    newest = number;
    heard(now);
    await show();
    if (now && items.some((item) => mine(item, now.who) && item.state === "waiting")) await handIn();
    if (now && root.dataset.kept) renew();
  };
  document.addEventListener("fresh", () => { fresh = Date.now(); away = false; delete root.dataset.kept; live = connected; draw(); });
  document.addEventListener("visibilitychange", beat);
  for (const name of ["online", "offline", "pageshow"]) addEventListener(name, beat);
  setInterval(beat, BEAT_MS);
  if (root.dataset.kept) document.querySelectorAll("main form").forEach((form) => stamp(form, form.getAttribute("action") || "", Date.now() - (clocks.get("ahead") || 0)));
  if (!live) draw();
  beat();
})();
