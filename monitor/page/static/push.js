// Messages on this phone: asked for by a tap alone. What the browser answers is handed in with the form.
"use strict";

(() => {
  const form = document.getElementById("push");
  if (!form) return;
  const words = JSON.parse(form.dataset.words);
  const line = document.getElementById("push-said"), button = form.querySelector("button");
  const say = (text) => { line.textContent = text; line.hidden = !text; };
  const never = (text) => { say(text); button.hidden = true; form.querySelectorAll("label").forEach((label) => { label.hidden = true; }); };
  form.hidden = false;
  if (!isSecureContext || !navigator.serviceWorker || !window.PushManager || !window.Notification) {
    never(/iPhone|iPad/.test(navigator.userAgent) ? words.iphone : words.cannot);
    return;
  }
  if (Notification.permission === "denied") { never(words.denied); return; }
  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/").padEnd(Math.ceil(text.length / 4) * 4, "=")), (sign) => sign.charCodeAt(0));
  const plain = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  const digest = async (text) => [...new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const key = form.dataset.key;
  const fits = (made) => !made.options.applicationServerKey || plain(made.options.applicationServerKey) === key;
  const manager = async () => (await navigator.serviceWorker.ready).pushManager;

  const look = async () => {
    const made = await (await manager()).getSubscription();
    if (!made) return;
    const mark = await digest(made.endpoint), phone = document.querySelector(`[data-phone="${mark}"]`);
    if (phone && fits(made)) { never(words.this_phone); phone.prepend(line); }
    // The farm forgot this phone, or has another key since: one tap mends it.
    else say(words.again);
  };
  look().catch(() => {});

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    button.disabled = true;
    try {
      if (await Notification.requestPermission() !== "granted") { never(words.denied); return; }
      const push = await manager();
      let made = await push.getSubscription();
      if (made && !fits(made)) { form.elements.old.value = made.endpoint; await made.unsubscribe(); made = null; }
      made = made || await push.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(key) });
      form.elements.endpoint.value = made.endpoint;
      form.elements.p256dh.value = plain(made.getKey("p256dh"));
      form.elements.auth.value = plain(made.getKey("auth"));
      form.submit();
    } catch { say(words.no_service); button.disabled = false; }
  });
})();
