// Drawing marks: press on a picture and draw; the form takes the two points.
import { drawMarks } from "./present_marks.js";

const NAMES = ["x1_pct", "y1_pct", "x2_pct", "y2_pct"];

function arm(shot) {
  const image = shot.querySelector("img");
  const form = document.querySelector(`form[data-for="${shot.dataset.marks}"]`);
  const stored = JSON.parse(document.getElementById(shot.dataset.marks).textContent);
  const field = (name) => form.elements[name];

  function draw() {
    if (!image.naturalWidth) return;
    const points = NAMES.map((name) => field(name).value);
    const [x1, y1, x2, y2] = points.map(Number);
    const own = points.every((value) => value !== "") ? [{ shape: field("shape").value, x1, y1, x2, y2 }] : [];
    shot.querySelector("svg")?.remove();
    const marks = [...stored, ...own];
    shot.append(drawMarks(marks, marks.length, image.naturalWidth, image.naturalHeight));
  }

  function place(event) {
    const box = image.getBoundingClientRect();
    const scale = Math.min(box.width / image.naturalWidth, box.height / image.naturalHeight);
    const [w, h] = [image.naturalWidth * scale, image.naturalHeight * scale];
    const share = (at, start, room, size) => Math.min(100, Math.max(0, ((at - start - (room - size) / 2) / size) * 100));
    return [share(event.clientX, box.left, box.width, w), share(event.clientY, box.top, box.height, h)].map((v) => v.toFixed(1));
  }

  shot.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    shot.setPointerCapture(event.pointerId);
    [field("x1_pct").value, field("y1_pct").value] = place(event);
    const move = (now) => {
      [field("x2_pct").value, field("y2_pct").value] = place(now);
      draw();
    };
    move(event);
    shot.addEventListener("pointermove", move);
    const stop = () => {
      shot.removeEventListener("pointermove", move);
      field("words").focus();
    };
    shot.addEventListener("pointerup", stop, { once: true });
  });
  form.addEventListener("input", draw);
  image.addEventListener("load", draw);
  draw();
}

document.querySelectorAll("[data-marks]").forEach(arm);
