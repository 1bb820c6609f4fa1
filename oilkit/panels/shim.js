// What ipywidgets cannot do from Python, for every focusable element of one panel:
// - keep JupyterLab's single-key commands away from it (with a slider focused, "dd" would delete the cell);
//   keys with Ctrl, Cmd or Alt and Shift+Enter still reach JupyterLab, so that saving and running work;
// - give it a name that a screen reader can say, and the picture a text alternative.
const FOCUSABLE = 'input, textarea, select, button, [tabindex], [contenteditable="true"]';
const SUPPRESS = "data-lm-suppress-shortcuts";

function nameOf(element) {
  const control = element.closest(".oilkit-control");
  const name = control && control.querySelector(".oilkit-name");
  if (!name) return "";
  return element.matches("input[type=text]") && control.querySelector(".noUi-handle")
    ? `${name.textContent}, type a value`
    : name.textContent;
}

function render({ model, el }) {
  el.style.display = "none";
  let panel = null;
  let waiting = 0;

  const dress = () => {
    waiting = 0;
    for (const element of panel.querySelectorAll(FOCUSABLE)) {
      if (element.hasAttribute(SUPPRESS)) continue;
      element.setAttribute(SUPPRESS, "true");
      const labelled = element.labels && [...element.labels].some((l) => l.textContent.trim());
      const named = element.hasAttribute("aria-label") || labelled || (element.tagName !== "SELECT" && element.textContent.trim());
      const name = named ? "" : nameOf(element);
      if (name) element.setAttribute("aria-label", name);
    }
    for (const button of panel.querySelectorAll(".widget-toggle-button")) {
      const pressed = String(button.classList.contains("mod-active"));
      if (button.getAttribute("aria-pressed") !== pressed) button.setAttribute("aria-pressed", pressed);
    }
    for (const readout of panel.querySelectorAll(".oilkit-readout:not([aria-live])")) {
      readout.setAttribute("aria-live", "polite");
    }
    for (const picture of panel.querySelectorAll(".oilkit-picture")) {
      const image = picture.matches("img") ? picture : picture.querySelector("img");
      if (image && !image.alt) image.alt = model.get("alt");
    }
  };
  const observer = new MutationObserver(() => {
    if (!waiting) waiting = requestAnimationFrame(dress);
  });
  const onKey = (event) => {
    const target = event.target;
    if (!panel || !(target instanceof Element) || !panel.contains(target)) return;
    const runsCell = event.key === "Enter" && event.shiftKey;
    if (runsCell || event.ctrlKey || event.metaKey || event.altKey) target.removeAttribute(SUPPRESS);
    else target.setAttribute(SUPPRESS, "true");
  };
  const find = () => {
    panel = el.closest(".oilkit-panel");
    if (!panel) {
      waiting = requestAnimationFrame(find);
      return;
    }
    dress();
    observer.observe(panel, { childList: true, subtree: true, attributes: true, attributeFilter: ["class"] });
  };
  window.addEventListener("keydown", onKey, true);
  find();
  return () => {
    window.removeEventListener("keydown", onKey, true);
    observer.disconnect();
    cancelAnimationFrame(waiting);
  };
}

export default { render };
