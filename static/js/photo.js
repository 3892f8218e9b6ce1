// With a script the photo is as wide as the page: what is sent is where on it, as a share, not as pixels.
const photo = document.getElementById("photo");
const form = document.getElementById("spots");
photo.classList.add("wide");
photo.addEventListener("click", (event) => {
  if (!event.detail) return; // a key was pressed on it; nobody pointed anywhere
  event.preventDefault();
  const box = photo.getBoundingClientRect();
  const share = (at, from, size) => String(Math.min(1, Math.max(0, (at - from) / size)));
  form.elements.share_x.value = share(event.clientX, box.left, box.width);
  form.elements.share_y.value = share(event.clientY, box.top, box.height);
  form.requestSubmit();
});
