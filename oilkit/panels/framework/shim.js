// What ipywidgets cannot do from Python, for every focusable element of one panel:
// - keep JupyterLab's single-key commands away from it (with a slider focused, "dd" would delete the cell);
//   keys with Ctrl, Cmd or Alt and Shift+Enter still reach JupyterLab, so that saving and running work;
// - show the panel alone on the full screen; tell the lesson how much in it is done;
// - give it a name that a screen reader can say; and a question's picture its text alternative (`screen.js` does that
//   for a panel's).
const FOCUSABLE = 'input, textarea, select, button, summary, a[href], [tabindex], [contenteditable="true"]';
const TYPED = 'input:not([type="radio"], [type="checkbox"]), textarea, select, [contenteditable="true"]';
const GROUPS = ".widget-toggle-buttons, .widget-radio-box";
const SUPPRESS = "data-lm-suppress-shortcuts";

function nameOf(element) {
  const control = element.closest(".oilkit-control");
  const name = control && control.querySelector(".oilkit-name");
  if (!name) return "";
  return element.matches("input[type=text]") && control.querySelector(".noUi-handle")
    ? `${name.textContent}, type a value`
    : name.textContent;
}

// A slider says "10.5 psig", and not "10.50".
function speak(handle) {
  const unit = /\(([^()]*)\)$/.exec(nameOf(handle).trim())?.[1];
  if (unit) setIfNew(handle, "aria-valuetext", `${Number(handle.getAttribute("aria-valuenow"))} ${unit}`);
}

function setIfNew(element, attribute, text) {
  if (text && element.getAttribute(attribute) !== text) element.setAttribute(attribute, text);
}

// The lesson's bar adds up how far one is: `lessons.js` hears of each panel, and when it is gone.
function initialize({ model }) {
  const id = {};
  const tell = () => {
    const [done, of] = model.get("far");
    const context = model.widget_manager?.context; // of which notebook: copies of a lesson have the same cells
    window.dispatchEvent(new CustomEvent("oilkit:far", { detail: { id, context, cell: model.get("cell"), done, of } }));
  };
  tell();
  model.on("change:far change:cell", tell);
  return () => {
    model.off("change:far change:cell", tell);
    window.dispatchEvent(new CustomEvent("oilkit:far", { detail: { id, of: 0 } }));
  };
}

function render({ model, el }) {
  el.style.display = "none";
  const ours = new WeakSet(); // elements named here; their names follow the captions, which follow the units
  let panel = null;
  let waiting = 0;

  const dress = () => {
    waiting = 0;
    for (const element of panel.querySelectorAll(FOCUSABLE)) {
      if (!element.hasAttribute(SUPPRESS)) {
        element.setAttribute(SUPPRESS, "true");
        const labelled = element.labels && [...element.labels].some((l) => l.textContent.trim());
        const says = element.tagName !== "SELECT" && element.textContent.trim();
        if (!element.hasAttribute("aria-label") && !labelled && !says) ours.add(element);
      }
      if (ours.has(element)) setIfNew(element, "aria-label", nameOf(element));
    }
    for (const group of panel.querySelectorAll(GROUPS)) {
      for (const radio of group.querySelectorAll("input[type=radio]:not([name])")) {
        radio.name = group.dataset.oilkitGroup ||= `oilkit-${Math.random()}`; // without one no arrow key chooses
      }
      setIfNew(group, "role", group.matches(".widget-radio-box") ? "radiogroup" : "group");
      setIfNew(group, "aria-label", nameOf(group) || "Units");
    }
    panel.querySelectorAll(".noUi-handle").forEach(speak);
    for (const button of panel.querySelectorAll(".widget-toggle-button")) {
      setIfNew(button, "aria-pressed", String(button.classList.contains("mod-active")));
    }
    for (const asked of panel.querySelectorAll(".oilkit-asked")) setIfNew(asked, "role", "status");
    for (const more of panel.querySelectorAll(".oilkit-more > button")) {
      setIfNew(more, "aria-expanded", String(more.nextElementSibling.style.display !== "none"));
    }
    for (const image of panel.querySelectorAll("img.oilkit-picture")) {
      if (!image.closest(".oilkit-screen")) setIfNew(image, "alt", model.get("alt"));
    }
  };
  const elsewhere = ({ target }) => !target.closest(".oilkit-screen"); // what a move changes: nothing to name there
  const observer = new MutationObserver((changes) => {
    if (!waiting && changes.some(elsewhere)) waiting = requestAnimationFrame(dress);
  });
  const moves = new MutationObserver((changes) => changes.forEach(({ target }) => speak(target)));
  const fullScreen = () => {
    if (document.fullscreenElement === panel) document.exitFullscreen();
    else panel.requestFullscreen();
  };
  const onClick = ({ target }) => {
    if (target.closest(".oilkit-full")) fullScreen();
  };
  const onFullScreen = () => {
    const full = panel.querySelector(".oilkit-full");
    if (full) full.textContent = document.fullscreenElement === panel ? "Leave full screen" : "Full screen";
  };
  const onKey = (event) => {
    const target = event.target;
    if (!panel || !(target instanceof Element) || !panel.contains(target)) return;
    const runsCell = event.key === "Enter" && event.shiftKey;
    if (runsCell || event.ctrlKey || event.metaKey || event.altKey) target.removeAttribute(SUPPRESS);
    else target.setAttribute(SUPPRESS, "true");
    if (event.key === "Escape" && document.fullscreenElement === panel) document.exitFullscreen();
    const plain = event.key.toLowerCase() === "f" && !(event.ctrlKey || event.metaKey || event.altKey || event.repeat);
    if (plain && !target.matches(TYPED) && panel.querySelector(".oilkit-full")) fullScreen();
  };
  const find = () => {
    panel = el.closest(".oilkit-panel");
    if (!panel) {
      waiting = requestAnimationFrame(find);
      return;
    }
    dress();
    panel.addEventListener("click", onClick);
    document.addEventListener("fullscreenchange", onFullScreen);
    observer.observe(panel, { childList: true, subtree: true, attributes: true, attributeFilter: ["class", "style"] });
    moves.observe(panel, { subtree: true, attributes: true, attributeFilter: ["aria-valuetext"] });
  };
  window.addEventListener("keydown", onKey, true);
  find();
  return () => {
    window.removeEventListener("keydown", onKey, true);
    document.removeEventListener("fullscreenchange", onFullScreen);
    panel?.removeEventListener("click", onClick);
    observer.disconnect();
    moves.disconnect();
    cancelAnimationFrame(waiting);
  };
}

export default { initialize, render };
