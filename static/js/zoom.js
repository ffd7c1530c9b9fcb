// Look closely at a photo: larger, smaller, fit, by button, key, wheel and drag.
const STEP = 1.25;
const MOST = 8;
const dialog = document.getElementById("zoom");
const ground = dialog?.querySelector(".zoom-ground");
const image = dialog?.querySelector("[data-zoom-image]");
const level = dialog?.querySelector("[data-zoom-level]");
let scale = 1;

const fitScale = () => Math.min(ground.clientWidth / image.naturalWidth, ground.clientHeight / image.naturalHeight, 1);

/** Show the photo at a scale, keeping what is in the middle in the middle. */
function show(wanted) {
  const old = scale;
  scale = Math.min(MOST, Math.max(Math.min(fitScale(), 1), wanted));
  const middleX = (ground.scrollLeft + ground.clientWidth / 2) / old;
  const middleY = (ground.scrollTop + ground.clientHeight / 2) / old;
  image.width = Math.round(image.naturalWidth * scale);
  image.height = Math.round(image.naturalHeight * scale);
  ground.scrollLeft = middleX * scale - ground.clientWidth / 2;
  ground.scrollTop = middleY * scale - ground.clientHeight / 2;
  level.textContent = `${Math.round(scale * 100)}%`;
}

const steps = {
  in: () => show(scale * STEP),
  out: () => show(scale / STEP),
  fit: () => show(fitScale()),
  close: () => dialog.close(),
};

function open(link) {
  const picture = link.querySelector("img");
  image.alt = picture.alt;
  image.onload = steps.fit;
  image.src = link.href;
  dialog.showModal();
  ground.focus();
  if (image.complete && image.naturalWidth) steps.fit();
}

function drag(event) {
  if (event.pointerType !== "mouse" || event.button) return; // a finger scrolls by itself
  const from = { x: event.clientX + ground.scrollLeft, y: event.clientY + ground.scrollTop };
  const move = (now) => {
    ground.scrollLeft = from.x - now.clientX;
    ground.scrollTop = from.y - now.clientY;
  };
  ground.setPointerCapture(event.pointerId);
  ground.addEventListener("pointermove", move);
  ground.addEventListener("pointerup", () => ground.removeEventListener("pointermove", move), { once: true });
  event.preventDefault();
}

if (dialog) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-zoom]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    open(link);
  });
  dialog.addEventListener("click", (event) => {
    const button = event.target.closest("[data-zoom-step]");
    if (button) steps[button.dataset.zoomStep]();
  });
  dialog.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = { "+": "in", "=": "in", "-": "out", 0: "fit" }[event.key];
    if (!step) return;
    event.preventDefault();
    steps[step]();
  });
  ground.addEventListener("pointerdown", drag);
  ground.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    steps[event.deltaY < 0 ? "in" : "out"]();
  }, { passive: false });
}
