// What a panel shows: its picture and, beside the controls, its table and words. One message from the kernel brings
// both. Of the picture it brings, after the first time, only the rectangle that has changed. It comes as a data URL: the
// browser shows that at once, a blob only after asking another process.
// Only what differs is put in place of what stood: the rest need not be laid out, or read aloud, again.
const renew = (old, fresh) => {
  const [children, others] = [[...old.childNodes], [...fresh.childNodes]];
  if (children.length !== others.length) return old.replaceChildren(...others);
  children.forEach((child, k) => {
    const other = others[k];
    if (child.isEqualNode(other)) return;
    if (child.hasChildNodes() && child.cloneNode(false).isEqualNode(other.cloneNode(false))) renew(child, other);
    else child.replaceWith(other);
  });
};

// A hand, a mouse or a pen drags what stands in the picture (`grips.py`); afterwards the slider that it sets has the keys.
const REACH = 16; // pixels of the screen
function dragging(model, canvas) {
  let held = -1; // which grip
  let hand = null; // where the hand was last, while the kernel has not been told
  let waiting = 0;

  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    const scale = Math.max(canvas.width / box.width, canvas.height / box.height); // it may stand in a larger box
    return { left: (event.clientX - box.left) * scale, top: (event.clientY - box.top) * scale, scale };
  };
  const under = (event) => {
    const { left, top, scale } = at(event);
    const far = model.get("grips").map((grip) => {
      if (!grip) return Infinity;
      const [, x, y, along] = grip;
      if (along === "y") return top >= y - REACH * scale ? Math.abs(left - x) + 4 * scale : Infinity; // a point goes first
      return along === "x" ? Math.abs(top - y) + 4 * scale : Math.hypot(left - x, top - y);
    });
    const nearest = far.indexOf(Math.min(...far));
    return far[nearest] <= REACH * scale ? nearest : -1;
  };
  const tell = () => {
    clearTimeout(waiting);
    waiting = 0;
    if (!hand) return;
    model.send({ grip: held, ...hand });
    hand = null;
    waiting = setTimeout(tell, 150); // where nothing changes, nothing answers
  };
  const listeners = {
    pointermove(event) {
      if (held < 0) {
        canvas.style.cursor = under(event) < 0 ? "" : "grab";
        return;
      }
      const { left, top } = at(event);
      hand = { left, top };
      if (!waiting) tell();
    },
    pointerdown(event) {
      held = event.button ? -1 : under(event);
      if (held < 0) return;
      canvas.setPointerCapture(event.pointerId);
      canvas.style.cursor = "grabbing";
      event.preventDefault();
    },
    pointerup() {
      if (held < 0) return;
      const [name] = model.get("grips")[held] ?? [];
      clearTimeout(waiting);
      tell();
      held = -1;
      canvas.style.cursor = "";
      canvas.closest(".oilkit-panel")?.querySelector(`.oilkit-of-${name} .noUi-handle`)?.focus({ preventScroll: true });
    },
    pointercancel() {
      hand = null; // what waits is not told: of no grip
      held = -1;
    },
    touchmove: (event) => held >= 0 && event.preventDefault(), // the page stays where it is
  };
  for (const [name, act] of Object.entries(listeners)) canvas.addEventListener(name, act, { passive: false });
  const answered = () => waiting && tell();
  model.on("change:grips", answered);
  return () => model.off("change:grips", answered);
}

export default () => {
  const whole = document.createElement("canvas"); // the picture as it stands, also for a view that is opened later
  let places = []; // elements of the page that show it
  const views = new Set(); // each a function that takes over what has just been drawn
  let queue = Promise.resolve(); // pictures are drawn in the order in which they came; one that fails stops no other
  const inTurn = (act) => (queue = queue.then(act).catch((problem) => console.error("oilkit:", problem)));
  let picture = null;
  let patch = null;

  const loaded = (png) =>
    new Promise((resolve) => {
      const image = new Image();
      image.onload = image.onerror = () => resolve(image);
      image.src = `data:image/png;base64,${png}`;
    });

  const toldBy = (model) => ({ table: model.get("table"), general: model.get("alt"), stale: model.get("stale"), rough: model.get("rough") });

  // The settings outlive the kernel: the lesson's bar (`lessons.js`) keeps them for the notebook that this panel stands
  // in, and puts them back. A cell that is out of sight may have been taken out of the page: it stands where it stood.
  let lesson = "";
  const keep = (model) => {
    const [cell, call, settings] = ["cell", "call", "settings"].map((name) => model.get(name));
    lesson = places.map((place) => place.closest("[data-oilkit-lesson]")?.dataset.oilkitLesson).find(Boolean) ?? lesson;
    if (lesson && cell && settings) window.dispatchEvent(new CustomEvent("oilkit:settings", { detail: { lesson, cell, call, settings } }));
  };

  const take = (model) => {
    const told = toldBy(model);
    const afresh = model.get("picture") !== picture;
    let drawing = null;
    if (afresh) drawing = [0, 0, model.get("picture")];
    else if (model.get("patch") !== patch) drawing = model.get("patch");
    [picture, patch] = [model.get("picture"), model.get("patch")];
    const image = drawing && loaded(drawing[2]);
    inTurn(async () => {
      const drawn = await image;
      if (drawn && drawn.naturalWidth) {
        if (afresh) [whole.width, whole.height] = [drawn.naturalWidth, drawn.naturalHeight];
        whole.getContext("2d").drawImage(drawn, drawing[0], drawing[1]);
      }
      // numbers change in the same instant as the picture, and not before it
      for (const view of views) view(told, drawn ? [drawing[0], drawing[1], drawn.naturalWidth, drawn.naturalHeight] : null);
    });
  };

  const initialize = ({ model }) => {
    const changed = () => take(model);
    if (model.get("picture")) changed();
    const settled = () => keep(model);
    model.on("change", changed);
    model.on("change:settings", settled);
    return () => {
      model.off("change", changed);
      model.off("change:settings", settled);
    };
  };

  const render = ({ model, el }) => {
    el.classList.add("oilkit-screen");
    places.push(el);
    const stale = document.createElement("div"); // there from the first, so that a screen reader hears it filled
    stale.className = "oilkit-stale";
    stale.setAttribute("role", "status");
    const canvas = document.createElement("canvas");
    canvas.className = "oilkit-picture";
    canvas.setAttribute("role", "img");
    const readout = document.createElement("div");
    readout.className = "oilkit-readout";
    readout.setAttribute("aria-live", "polite");
    el.append(stale, canvas, readout);
    const told = document.createElement("div"); // holds the words while they stand below the controls
    told.className = "oilkit-told";
    told.setAttribute("aria-live", "polite");

    // On the full screen the last paragraphs, for which there is no room under the picture, stand below the controls.
    const full = () => Boolean(document.fullscreenElement?.contains(canvas));
    let below = 0; // so many of them
    let crowded = false; // for more there is no room there either
    const fill = (table) => {
      const [fresh, words] = [document.createElement("div"), document.createElement("div")];
      fresh.innerHTML = table;
      const folds = readout.querySelectorAll("details"); // what the learner has opened stays open
      fresh.querySelectorAll("details").forEach((fold, k) => (fold.open = Boolean(folds[k]?.open)));
      const paragraphs = [...fresh.querySelectorAll(":scope > p")];
      if (below) words.append(...paragraphs.slice(-below));
      renew(readout, fresh);
      renew(told, words);
      return paragraphs.length;
    };
    const fits = (part) => part.scrollHeight <= part.clientHeight + 1;
    const body = () => el.closest(".oilkit-body");
    const controls = () => body()?.querySelector(".oilkit-controls");
    const place = (table) => {
      const beside = controls();
      if (!beside || !full()) {
        below = 0;
        told.remove();
        fill(table);
        return;
      }
      if (told.parentElement !== beside) beside.append(told);
      const count = fill(table);
      if (crowded || (fits(readout) && fits(beside)) || readout.querySelector("details[open]")) return; // nothing jumps about
      for (below = 0, fill(table); below < count && !fits(readout); ) {
        below += 1;
        fill(table);
        if (fits(beside)) continue;
        below -= 1;
        crowded = true;
        fill(table);
        return;
      }
    };
    let latest = "";
    const anew = () => {
      [below, crowded] = [0, false];
      const beside = controls();
      told.replaceChildren();
      beside?.classList.remove("oilkit-crowded");
      beside?.classList.toggle("oilkit-crowded", full() && !fits(beside)); // the step that is done goes first
      place(latest);
    };
    const resized = new ResizeObserver(() => requestAnimationFrame(() => full() && anew()));

    const letGo = dragging(model, canvas);
    const view = ({ table, general, stale: sentence, rough }, box) => {
      el.dataset.rough = rough;
      el.classList.toggle("oilkit-rough", Boolean(rough));
      if (stale.textContent !== sentence) stale.textContent = sentence;
      for (const part of [canvas, readout, told]) part.classList.toggle("oilkit-old", Boolean(sentence));
      place((latest = table));
      // the text alternative: what the picture shows in general, and the panel's words for what it shows now
      const paragraphs = [...readout.querySelectorAll("p:not(.oilkit-steps p)"), ...told.children];
      const words = paragraphs.map((p) => p.textContent).join(" ");
      canvas.setAttribute("aria-label", [sentence, rough, general, words].join(" ").trim());
      if (!box) return; // the numbers changed by less than a pixel
      if (canvas.width !== whole.width || canvas.height !== whole.height) {
        [canvas.width, canvas.height] = [whole.width, whole.height];
        box = [0, 0, whole.width, whole.height];
        anew();
        if (full()) fit(true); // some pictures have another height there
      }
      canvas.getContext("2d").drawImage(whole, ...box, ...box);
      canvas.dispatchEvent(new Event("load"));
    };
    // on the full screen the picture is drawn afresh, as large as it is shown there: enlarged by the browser it would blur
    const fit = (again) => {
      const [was, box] = [model.get("scale"), canvas.getBoundingClientRect()];
      const large = full();
      const room = Math.min(box.width / whole.width, box.height / whole.height) * was * window.devicePixelRatio;
      const wanted = large ? Math.min(Math.max(Math.round(room * 20) / 20, 1), 3) : 1;
      if (!whole.width || !box.width || Math.abs(wanted - was) < (again ? 0.06 : 0.01)) return;
      // letters as large as those beside the picture, in points of a picture that is shown so large
      const beside = parseFloat(getComputedStyle(canvas).fontSize);
      model.set("points", large ? (0.75 * beside * window.devicePixelRatio) / Math.min(Math.max(room, 1), 3) : 0);
      model.set("scale", wanted);
      model.save_changes();
    };
    const soon = () => {
      setTimeout(fit, 300, false); // the window has its size by then
      resized.disconnect();
      if (full() && controls()) for (const part of [body(), canvas, stale, ...controls().children]) resized.observe(part);
      else anew();
    };
    document.addEventListener("fullscreenchange", soon);
    inTurn(() => {
      if (whole.width) view(toldBy(model), [0, 0, whole.width, whole.height]);
      views.add(view);
      if (!full()) fit(false); // the page may have gone while it was large
    });
    return () => {
      letGo();
      told.remove();
      resized.disconnect();
      places = places.filter((place) => place !== el);
      views.delete(view);
      document.removeEventListener("fullscreenchange", soon);
    };
  };

  return { initialize, render };
};
