// The four corners of a panel on a photograph: dragged, or moved with the arrow keys. Without script they are typed.
const place = document.getElementById("place");
const form = document.getElementById("corners");
const WORDS = ["Top left", "Top right", "Bottom right", "Bottom left"];

if (place && form) {
  const field = (axis, at) => form.elements[`${axis}${at}`];
  const spot = (at) => [Number(field("x", at).value), Number(field("y", at).value)];
  const handles = WORDS.map((words, at) => {
    const handle = document.createElement("button");
    handle.type = "button";
    handle.className = "corner";
    handle.setAttribute("aria-label", `${words} corner`);
    place.append(handle);
    handle.addEventListener("pointerdown", (event) => handle.setPointerCapture(event.pointerId));
    handle.addEventListener("pointermove", (event) => {
      if (!handle.hasPointerCapture(event.pointerId)) return;
      const box = place.getBoundingClientRect();
      put(at, ((event.clientX - box.left) / box.width) * 100, ((event.clientY - box.top) / box.height) * 100);
    });
    handle.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!step) return;
      event.preventDefault();
      const [x, y] = spot(at);
      const far = event.shiftKey ? 5 : 0.5;
      put(at, x + step[0] * far, y + step[1] * far);
    });
    return handle;
  });

  const put = (at, x, y) => {
    const within = (value) => Math.min(110, Math.max(-10, value)).toFixed(1);
    field("x", at).value = within(x);
    field("y", at).value = within(y);
    draw();
  };

  const draw = () => {
    const points = WORDS.map((_, at) => spot(at));
    if (points.flat().some(Number.isNaN)) return; // said beside its field
    place.querySelectorAll("polygon").forEach((one) => one.setAttribute("points", points.join(" ")));
    points.forEach(([x, y], at) => {
      handles[at].style.left = `${x}%`;
      handles[at].style.top = `${y}%`;
    });
  };

  form.addEventListener("input", draw);
  place.hidden = document.getElementById("place-hint").hidden = false;
  document.getElementById("by-number").open = form.querySelector(".error") !== null;
  draw();
}
