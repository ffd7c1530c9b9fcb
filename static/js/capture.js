// Bringing in a report with the keyboard alone: pasted pictures go up at once, the words are looked
// at while they stand there, and Ctrl+Enter saves from anywhere.
import { say } from "./desk.js";
import { watchParts } from "./parts.js";
import { Uploads } from "./uploads.js";

const LOOK_AFTER_MS = 300;
const PHOTO = /^image\/(jpeg|png|webp|hei[cf])$/;
const PHOTO_NAME = /\.(heic|heif)$/i;

const form = document.querySelector("[data-capture]");
const photos = new Uploads(form.querySelector("[data-uploads]"));
const files = form.querySelector("#files");

/** Put photos on their way and the other files into their field. */
function take(list) {
  const all = [...list];
  const isPhoto = (file) => PHOTO.test(file.type) || PHOTO_NAME.test(file.name);
  photos.add(all.filter(isPhoto));
  const others = all.filter((file) => !isPhoto(file));
  if (!others.length) return;
  const chosen = new DataTransfer();
  for (const file of [...files.files, ...others]) chosen.items.add(file);
  files.files = chosen.files;
  say(`${others.map((file) => file.name).join(", ")} added.`);
}

document.addEventListener("paste", (event) => {
  if (!event.clipboardData.files.length) return;
  // Programs often put words beside a picture; where there are words, they are what is pasted.
  if (event.clipboardData.getData("text/plain")) return;
  event.preventDefault();
  take(event.clipboardData.files);
});

form.addEventListener("dragover", (event) => event.preventDefault(), true);
form.addEventListener("drop", (event) => {
  event.preventDefault();
  event.stopPropagation(); // the photos' own place would send every file as a photo
  take(event.dataTransfer.files);
}, true);

form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || event.isComposing) return;
  event.preventDefault();
  form.requestSubmit(form.querySelector(".button.main"));
});

let timer = 0;
let newest = 0;

/** Ask the desk what the words may be, and show it unless newer words are on their way. */
async function look() {
  newest += 1;
  const mine = newest;
  const data = new URLSearchParams({
    csrfmiddlewaretoken: form.elements.csrfmiddlewaretoken.value,
    words: form.elements.words.value,
    link: form.elements.link.value,
  });
  try {
    const response = await fetch(form.dataset.look, { method: "POST", body: data });
    if (!response.ok || mine !== newest) return;
    // The answer is a panel rendered by the desk itself, with every name escaped.
    const panel = new DOMParser().parseFromString(await response.text(), "text/html").getElementById("seen");
    document.getElementById("seen").replaceWith(panel);
    htmx.process(panel);
    const words = response.headers.get("Desk-Said");
    if (words) say(decodeURIComponent(words));
  } catch {
    // Without an answer the form works as before; the button for a look stays away on purpose.
  }
}

form.addEventListener("input", (event) => {
  if (event.target !== form.elements.words && event.target !== form.elements.link) return;
  clearTimeout(timer);
  timer = setTimeout(look, LOOK_AFTER_MS);
});

form.dataset.lively = "";
watchParts(form);
document.body.addEventListener("htmx:afterSettle", () => form.dispatchEvent(new Event("change")));
const made = document.getElementById("made");
if (made) say(made.textContent.trim());
(document.querySelector(".refusals") ?? form.elements.words).focus();
