// With scripts on: a photo is made small on the phone before it goes, and of what the camera wrote only the picture is left.
"use strict";

(() => {
  // Own choice: dots on the longer side, and how well the JPEG is made, from the best to the least.
  const SIDES = [1600, 1200, 900], QUALITIES = [0.82, 0.7, 0.55, 0.4];
  const SMALL_SIDES = [160, 120, 80], SMALL_QUALITIES = [0.7, 0.5, 0.35], SMALL_BYTES = 5500, PREVIEW = 160;
  const drawn = (picture, side) => {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height)), canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    const context = canvas.getContext("2d");
    context.imageSmoothingQuality = "high";
    // What is transparent would be black.
    context.fillStyle = "#fff";
    context.fillRect(0, 0, canvas.width, canvas.height);
    context.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas;
  };
  const encoded = (canvas, quality) => new Promise((resolve) => { canvas.toBlob(resolve, "image/jpeg", quality); });
  const within = async (picture, sides, qualities, most) => {
    for (const side of sides) {
      const canvas = drawn(picture, side);
      for (const quality of qualities) {
        const blob = await encoded(canvas, quality);
        if (blob && blob.type === "image/jpeg" && blob.size <= most) return blob;
      }
    }
    return null;
  };
  const give = (input, blob) => {
    const list = new DataTransfer();
    if (blob) list.items.add(new File([blob], "photo.jpg", { type: "image/jpeg" }));
    input.files = list.files;
  };
  const smallOf = (box) => {
    let input = box.querySelector("[name=photo_small]");
    if (!input) { input = Object.assign(document.createElement("input"), { type: "file", name: "photo_small", hidden: true }); box.append(input); }
    return input;
  };
  const told = (box, text) => {
    let line = box.querySelector("[role=status]");
    if (!line) { line = Object.assign(document.createElement("p"), { className: "notes" }); line.setAttribute("role", "status"); box.append(line); }
    line.textContent = text;
  };
  const shown = (box, picture) => {
    const words = JSON.parse(box.dataset.words);
    box.querySelectorAll("canvas, button").forEach((each) => each.remove());
    box.querySelector(".photo-add > span").textContent = picture || box.querySelector("[name=photo_kept]") ? words.another : words.add;
    if (!picture) return;
    const canvas = drawn(picture, PREVIEW), button = Object.assign(document.createElement("button"), { type: "button", className: "quiet", textContent: words.out });
    canvas.setAttribute("aria-hidden", "true");
    button.addEventListener("click", () => {
      const input = box.querySelector("[name=photo]");
      give(input, null);
      give(smallOf(box), null);
      shown(box, null);
      told(box, "");
      input.focus();
    });
    box.append(canvas, button);
  };

  const chosen = async (input) => {
    const box = input.closest(".photo"), words = JSON.parse(box.dataset.words), small = smallOf(box), file = input.files[0];
    shown(box, null);
    give(small, null);
    if (!file) { told(box, ""); return; }
    told(box, words.scaling);
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const blob = await within(picture, SIDES, QUALITIES, Number(box.dataset.most) * 1000);
      if (!blob) throw new Error("too large");
      give(input, blob);
      give(small, await within(picture, SMALL_SIDES, SMALL_QUALITIES, SMALL_BYTES));
      shown(box, picture);
      picture.close();
      told(box, words.ready.replace("{size}", Math.ceil(blob.size / 1000)));
    } catch {
      // Nothing that was not made small leaves the phone.
      give(input, null);
      told(box, words.unreadable);
    }
  };

  // A form that is sent meanwhile waits until its photo is small.
  const busy = new WeakMap();
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!input.matches || !input.matches(".photo input[name=photo]")) return;
    const work = chosen(input);
    busy.set(input.form, work);
    work.finally(() => { if (busy.get(input.form) === work) busy.delete(input.form); });
  });
  addEventListener("submit", (event) => {
    const work = busy.get(event.target), { submitter } = event;
    if (!work) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    work.finally(() => event.target.requestSubmit(submitter));
  }, true);
  // Whatever picture the phone has is made a JPEG here.
  document.addEventListener("click", (event) => { if (event.target.matches(".photo input[name=photo]")) event.target.accept = "image/*"; }, true);
  document.addEventListener("reset", (event) => {
    const box = event.target.querySelector(".photo");
    if (box) { shown(box, null); told(box, ""); }
  });
})();
