({
  // What a thumb and an eye meet on a page: evaluated in the browser by test_page_touch.py and test_page_barriers.py.
  small: () => {
    const shown = (each) => each.checkVisibility({ visibilityProperty: true }) && !each.closest(".unseen, .skip");
    const name = (each) => `${each.tagName} ${each.className} ${(each.getAttribute("href") || each.name || "")} ${each.textContent.trim().slice(0, 30)}`;
    const wrong = [];
    for (const found of document.querySelectorAll("a[href], button, summary, select, textarea, input:not([type=hidden])")) {
      if (!shown(found)) continue;
      const target = ["checkbox", "radio"].includes(found.type) ? found.closest("label") : found;
      target.scrollIntoView({ block: "center", inline: "nearest" });
      const boxes = [...target.getClientRects()].filter((box) => box.width > 0);
      const box = boxes[0], x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
      const whole = target.getBoundingClientRect();
      if (whole.width < 43.5 || box.height < 43.5) { wrong.push(`${whole.width.toFixed(0)}x${box.height.toFixed(0)} ${name(target)}`); continue; }
      for (const [dx, dy] of [[0, 0], [0, -20], [0, 20], ...(boxes.length > 1 ? [] : [[-20, 0], [20, 0]])]) {
        const hit = document.elementFromPoint(x + dx, y + dy);
        if (!hit || !(target.contains(hit) || hit.contains(target) && target.closest("label") === hit)) { wrong.push(`at ${dx},${dy} covered by ${hit ? name(hit) : "nothing"}: ${name(target)}`); break; }
      }
    }
    return wrong;
  },
  cut: () => {
    const wrong = [], width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > width) wrong.push(`page ${document.documentElement.scrollWidth}: ${[...document.querySelectorAll("main *")].filter((each) => each.checkVisibility() && each.getBoundingClientRect().right > width + 1).map((each) => each.outerHTML.slice(0, 60)).slice(0, 3)}`);
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      const parent = node.parentElement;
      if (!node.data.trim() || parent.closest("script, .unseen, .skip, svg, select, textarea") || !parent.checkVisibility({ visibilityProperty: true })) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const box of range.getClientRects()) {
        let clip = { left: 0, right: width };
        for (let each = parent; each; each = each.parentElement) {
          const style = getComputedStyle(each);
          if (style.overflowX === "auto" || style.overflowX === "scroll") { clip = null; break; }
          if (style.overflowX === "hidden" || each.matches("body > nav > ul > li, button")) {
            const frame = each.getBoundingClientRect();
            clip = { left: Math.max(clip.left, frame.left), right: Math.min(clip.right, frame.right) };
          }
        }
        if (clip && (box.left < clip.left - 1 || box.right > clip.right + 1)) { wrong.push(`${parent.tagName} ${parent.className} ${node.data.trim().slice(0, 40)}: ${box.left.toFixed(0)}..${box.right.toFixed(0)} of ${clip.left.toFixed(0)}..${clip.right.toFixed(0)}`); break; }
      }
    }
    scrollTo(0, document.body.scrollHeight);
    const bar = document.querySelector("body > nav"), last = document.querySelector("main").getBoundingClientRect().bottom;
    if (bar && last > bar.getBoundingClientRect().top + 1) wrong.push("the bar covers the end of the page");
    return wrong;
  },
  covered: (reading) => {
    const box = reading.getBoundingClientRect(), hit = [];
    const walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      if (!node.data.trim() || reading.contains(node) || node.parentElement.closest(".unseen") || !node.parentElement.checkVisibility()) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const other of range.getClientRects()) {
        if (other.left < box.right - 1 && other.right > box.left + 1 && other.top < box.bottom - 1 && other.bottom > box.top + 1) hit.push(node.data.trim());
      }
    }
    return hit;
  },
  fill: ([action, values]) => {
    const form = document.querySelector(`form[action="${action}"]`);
    for (const [name, text] of Object.entries(values)) {
      const hidden = () => Object.assign(document.createElement("input"), { type: "hidden", name });
      const field = form.elements[name] || form.appendChild(hidden());
      if (field.type === "checkbox") field.checked = true; else field.value = text;
    }
    form.submit();
  },
  barriers: async (rules) => {
    const quick = { resultTypes: ["violations"], selectors: false };
    const found = await axe.run(document, rules.length ? { ...quick, runOnly: rules } : quick);
    const about = (each) => `${each.id}: ${each.nodes.map((node) => node.html.slice(0, 160)).slice(0, 3).join(" | ")}`;
    return [found.passes.length, found.violations.map(about)];
  },
  shift: () => new Promise((resolve) => {
    let sum = 0;
    const add = (list) => list.getEntries().forEach((each) => { if (!each.hadRecentInput) sum += each.value; });
    new PerformanceObserver(add).observe({ type: "layout-shift", buffered: true });
    setTimeout(() => resolve(sum), 300);
  }),
  spoil: () => document.querySelector("main").insertAdjacentHTML("afterbegin", `<img>
    <p style="color: #888; background: #999">grey</p><p style="height: 300px; width: 900px"></p>`),
})
