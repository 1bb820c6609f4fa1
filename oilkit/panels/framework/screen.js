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

export default () => {
  const whole = document.createElement("canvas"); // the picture as it stands, also for a view that is opened later
  const views = new Set(); // each a function that takes over what has just been drawn
  let queue = Promise.resolve(); // pictures are drawn in the order in which they came
  let picture = null;
  let patch = null;

  const loaded = (png) =>
    new Promise((resolve) => {
      const image = new Image();
      image.onload = image.onerror = () => resolve(image);
      image.src = `data:image/png;base64,${png}`;
    });

  const toldBy = (model) => ({ table: model.get("table"), general: model.get("alt"), stale: model.get("stale") });

  const take = (model) => {
    const told = toldBy(model);
    const afresh = model.get("picture") !== picture;
    let drawing = null;
    if (afresh) drawing = [0, 0, model.get("picture")];
    else if (model.get("patch") !== patch) drawing = model.get("patch");
    [picture, patch] = [model.get("picture"), model.get("patch")];
    const image = drawing && loaded(drawing[2]);
    queue = queue.then(async () => {
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
    model.on("change", changed);
    return () => model.off("change", changed);
  };

  const render = ({ model, el }) => {
    el.classList.add("oilkit-screen");
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

    const view = ({ table, general, stale: sentence }, box) => {
      if (stale.textContent !== sentence) stale.textContent = sentence;
      for (const part of [canvas, readout]) part.classList.toggle("oilkit-old", Boolean(sentence));
      const fresh = document.createElement("div");
      fresh.innerHTML = table;
      const folds = readout.querySelectorAll("details"); // what the learner has opened stays open
      fresh.querySelectorAll("details").forEach((fold, k) => (fold.open = Boolean(folds[k]?.open)));
      renew(readout, fresh);
      // the text alternative: what the picture shows in general, and the panel's words for what it shows now
      const words = [...readout.querySelectorAll("p")].map((p) => p.textContent).join(" ");
      canvas.setAttribute("aria-label", [sentence, general, words].join(" ").trim());
      if (!box) return; // the numbers changed by less than a pixel
      if (canvas.width !== whole.width || canvas.height !== whole.height) {
        [canvas.width, canvas.height] = [whole.width, whole.height];
        box = [0, 0, whole.width, whole.height];
      }
      canvas.getContext("2d").drawImage(whole, ...box, ...box);
      canvas.dispatchEvent(new Event("load"));
    };
    // on the full screen the picture is drawn afresh, as large as it is shown there: enlarged by the browser it would blur
    const fit = () => {
      const [was, box] = [model.get("scale"), canvas.getBoundingClientRect()];
      const large = document.fullscreenElement?.contains(canvas);
      const room = Math.min(box.width / whole.width, box.height / whole.height) * was * window.devicePixelRatio;
      const wanted = large ? Math.min(Math.max(Math.round(room * 20) / 20, 1), 3) : 1;
      if (!whole.width || !box.width || wanted === was) return;
      model.set("scale", wanted);
      model.save_changes();
    };
    const soon = () => setTimeout(fit, 300); // the window has its size by then
    document.addEventListener("fullscreenchange", soon);
    queue = queue.then(() => {
      if (whole.width) view(toldBy(model), [0, 0, whole.width, whole.height]);
      views.add(view);
    });
    return () => {
      views.delete(view);
      document.removeEventListener("fullscreenchange", soon);
    };
  };

  return { initialize, render };
};
