// The panel beside the story: what the desk understands of it, shown anew while a person writes.
import { say } from "./desk.js";

const WAIT_MS = 600;
const SENT = ["csrfmiddlewaretoken", "story", "tried", "process", "machine", "material", "withdrawn"];

/** Return the part of a form that is looked at: words about the print, nothing of the person. */
function dataOf(form) {
  const data = new FormData();
  for (const [name, value] of new FormData(form)) {
    if (SENT.includes(name) || name.startsWith("seen-")) data.append(name, value);
  }
  return data;
}

/** Return how to find an element of the panel again after the panel was made anew. */
function placeOf(element) {
  const { name, value } = element;
  if (name === "not_so" || name === "so") {
    const other = name === "so" ? "not_so" : "so";
    return [`[name="${name}"][value="${value}"]`, `[name="${other}"][value="${value}"]`];
  }
  if (name) return [`[name="${name}"][value="${value}"]`];
  return element.href ? [`a[href="${element.getAttribute("href")}"]`] : [];
}

/** The panel of one form. */
class Understood {
  constructor(part) {
    this.part = part;
    this.form = part.closest("form");
    this.spoken = "";
    part.dataset.lively = "";
    for (const name of ["story", "tried", "machine", "material", "process"]) {
      this.form.elements[name].addEventListener("input", () => this.later());
    }
    part.addEventListener("change", () => this.look());
    part.addEventListener("click", (event) => this.press(event));
    if (this.form.elements.story.value.trim() && !part.querySelector("button:not([value=understood])")) this.look();
  }

  /** Look once the person pauses. */
  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.look(), WAIT_MS);
  }

  press(event) {
    const button = event.target.closest("button");
    if (!button) return;
    event.preventDefault();
    this.look(button);
  }

  async look(button = null) {
    clearTimeout(this.timer);
    this.request?.abort();
    this.request = new AbortController();
    const { signal } = this.request;
    const data = dataOf(this.form);
    if (button) data.append(button.name, button.value);
    try {
      const response = await fetch(this.part.dataset.to, { method: "POST", body: data, signal });
      const words = await response.text();
      if (signal.aborted) return;
      if (response.ok) this.show(words, response.headers.get("Desk-Said") ?? "");
      else if (button) say(response.status === 429 ? words : "The desk could not look at that. Please try again.");
    } catch (error) {
      // The panel stays as it is; the form can be sent without it.
      if (error.name !== "AbortError" && button) say("The desk cannot be reached. What you wrote is still here.");
    }
  }

  /** Put the panel in place; who stood in it stays where they were. */
  show(words, summary) {
    // The answer is one section rendered by the desk itself, with every word escaped.
    const fresh = new DOMParser().parseFromString(words, "text/html").getElementById("understood");
    const focused = this.part.contains(document.activeElement) ? document.activeElement : null;
    const places = focused ? placeOf(focused) : [];
    this.part.replaceChildren(document.adoptNode(fresh));
    if (focused) {
      const again = places.map((place) => this.part.querySelector(place)).find(Boolean);
      (again ?? this.part.querySelector("h3")).focus({ preventScroll: true });
    }
    const told = decodeURIComponent(summary);
    if (told && told !== this.spoken) say(told);
    this.spoken = told;
  }
}

for (const part of document.querySelectorAll("[data-understood]")) new Understood(part);
