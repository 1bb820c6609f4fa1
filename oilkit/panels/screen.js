// What a panel shows: its picture and, beside the controls, its table and words. One message from the kernel brings
// both. The picture comes as a data URL: the browser shows that at once, a blob only after asking another process.
function render({ model, el }) {
  el.classList.add("oilkit-screen");
  const image = document.createElement("img");
  image.className = "oilkit-picture";
  const readout = document.createElement("div");
  readout.className = "oilkit-readout";
  readout.setAttribute("aria-live", "polite");
  el.append(image, readout);

  const tell = () => {
    readout.innerHTML = model.get("table");
    // the text alternative: what the picture shows in general, and the panel's words for what it shows now
    const words = [...readout.querySelectorAll("p")].map((p) => p.textContent).join(" ");
    image.alt = `${model.get("alt")} ${words}`.trim();
  };
  const show = () => {
    const source = `data:image/png;base64,${model.get("picture")}`;
    if (image.src === source) tell(); // the numbers changed by less than a pixel: nothing to load
    else image.src = source;
  };
  image.onload = image.onerror = tell; // numbers change in the same instant as the picture, and not before it
  show();
  model.on("change", show);
  return () => model.off("change", show);
}

export default { render };
