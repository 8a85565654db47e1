// With scripts on: pages stay fresh, and a finger on a curve reads the nearest value. Nothing needs this file.
"use strict";

(() => {
  const main = document.getElementById("live");

  // A reading under the finger.
  const nearest = (times, at) => {
    let low = 0, high = times.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (times[middle] < at) low = middle; else high = middle;
    }
    return at - times[low] < times[high] - at ? low : high;
  };

  const prepare = (plot) => {
    const numbers = plot.dataset.points.split(" ").map(Number);
    if (numbers.length < 2) return;
    const times = numbers.filter((_, index) => index % 2 === 0);
    const values = numbers.filter((_, index) => index % 2 === 1);
    const start = Number(plot.dataset.start), length = Number(plot.dataset.end) - start;
    const decimals = Number(plot.dataset.decimals), spoken = document.documentElement.lang;
    const language = spoken === "en" ? "en-GB" : spoken;
    const number = new Intl.NumberFormat(language, { minimumFractionDigits: decimals, maximumFractionDigits: decimals });
    const clock = new Intl.DateTimeFormat(language, {
      weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: plot.dataset.zone,
    });
    const out = plot.parentElement.querySelector(".reading");
    const picture = plot.querySelector(".chart");
    const finger = plot.querySelector(".finger"), line = finger.querySelector("line"), dot = finger.querySelector("circle");
    let chosen = times.length - 1;

    const show = (index) => {
      chosen = Math.max(0, Math.min(times.length - 1, index));
      const share = `${(100000 * times[chosen]) / length}%`;
      line.setAttribute("x1", share); line.setAttribute("x2", share);
      dot.setAttribute("cx", share); dot.setAttribute("cy", height(values[chosen]));
      finger.setAttribute("visibility", "visible");
      out.hidden = false;
      const unit = plot.dataset.unit ? `\u00a0${plot.dataset.unit}` : "";
      out.textContent = `${clock.format(new Date(start + 1000 * times[chosen]))}: ${number.format(values[chosen])}${unit}`;
    };
    const bottom = Number(plot.dataset.low), top = Number(plot.dataset.high);
    const height = (value) => Number(line.getAttribute("y2")) -
      (Number(line.getAttribute("y2")) - Number(line.getAttribute("y1"))) * (value - bottom) / (top - bottom);
    const touch = (event) => {
      const box = picture.getBoundingClientRect();
      show(nearest(times, (length / 1000) * (event.clientX - box.left) / box.width));
    };
    const hide = () => { finger.setAttribute("visibility", "hidden"); out.hidden = true; };
    plot.addEventListener("pointermove", touch);
    plot.addEventListener("pointerdown", touch);
    plot.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") hide(); });
    plot.tabIndex = 0;
    plot.setAttribute("role", "group");
    plot.setAttribute("aria-label", plot.parentElement.querySelector("h2, h3, h4").textContent);
    out.setAttribute("aria-live", "polite");
    plot.addEventListener("focus", () => show(chosen));
    plot.addEventListener("blur", hide);
    plot.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: -1, ArrowRight: 1, PageUp: -60, PageDown: 60 }[event.key];
      if (step === undefined) return;
      event.preventDefault();
      show(chosen + step);
    });
  };
  document.querySelectorAll(".plot[data-points]").forEach(prepare);

  // A card: copied with one tap, and the board waited for beside it, since the card itself is not shown again.
  document.querySelectorAll("button[data-copy]").forEach((button) => {
    const text = document.getElementById(button.dataset.copy);
    button.hidden = false;
    button.addEventListener("click", async () => {
      text.select();
      // Over an unencrypted connection a browser has no clipboard but this old way.
      try { if (navigator.clipboard) await navigator.clipboard.writeText(text.value); else if (!document.execCommand("copy")) return; } catch { return; }
      button.textContent = button.dataset.done;
    });
  });
  const follow = document.querySelector("[data-follow]");
  if (follow) {
    const look = setInterval(async () => {
      if (document.hidden) return;
      try {
        const answer = await fetch(follow.dataset.follow, { credentials: "same-origin" });
        const word = answer.ok && new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("word");
        if (!word) return;
        if (word.textContent.trim() !== follow.textContent.trim()) follow.replaceChildren(...word.childNodes);
        if (word.hasAttribute("data-heard")) clearInterval(look);
      } catch { /* tried again */ }
    }, 3000);
  }

  // Fresh content, unless somebody is in the middle of something.
  if (!main || !main.dataset.live || !window.EventSource) return;
  const typed = (each) => {
    if (each.type === "hidden") return false;
    if (each.tagName !== "SELECT") return each.checked !== each.defaultChecked || each.value !== each.defaultValue;
    return each.selectedIndex !== Math.max(0, [...each.options].findIndex((option) => option.defaultSelected));
  };
  const busy = () => main.querySelector(".finger[visibility=visible]") ||
    (main.contains(document.activeElement) && document.activeElement.matches("input, select, textarea, button")) ||
    [...main.querySelectorAll("input, select, textarea")].some(typed);
  // What is unfolded stays so: it is known again by the first link of the card in which it stands.
  const standing = (details) => {
    const card = details.parentElement.closest("section, li, figure") || main, link = card.querySelector("a[href]");
    return `${link ? link.getAttribute("href") : ""} ${[...card.querySelectorAll("details")].indexOf(details)}`;
  };
  let wanted = false, running = false;
  const refresh = async () => {
    // A question about what was handed in stands here in place of the page: it stays until it is answered.
    if (!main.dataset.live) return;
    wanted = true;
    if (running || document.hidden || busy()) return;
    running = true; wanted = false;
    try {
      const address = new URL(location.href);
      address.searchParams.delete("command"); address.searchParams.delete("placed"); address.hash = "";
      const answer = await fetch(address, { credentials: "same-origin" });
      if (answer.redirected) { location.reload(); return; }
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const next = fresh.getElementById("live");
      if (!main.dataset.live) return;
      if (!next || busy()) { wanted = true; return; }
      const focused = document.activeElement && main.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
      const unfolded = new Set([...main.querySelectorAll("details[open]")].map(standing));
      main.replaceChildren(...next.childNodes);
      main.querySelectorAll("details").forEach((each) => { if (unfolded.has(standing(each))) each.open = true; });
      document.querySelector("header .clock").textContent = fresh.querySelector("header .clock").textContent;
      document.dispatchEvent(new Event("fresh"));
      main.querySelectorAll(".plot[data-points]").forEach(prepare);
      if (focused) { const again = main.querySelector(`a[href=${CSS.escape(focused)}]`); if (again) again.focus(); }
    } catch { wanted = true; } finally { running = false; }
  };
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  document.addEventListener("back", refresh);
  setInterval(() => { if (wanted) refresh(); }, 3000);
  new EventSource(main.dataset.live).addEventListener("changed", refresh);
})();
