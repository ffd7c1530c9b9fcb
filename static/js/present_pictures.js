// Every picture of a show in memory, decoded, and everything the page needs kept for being offline.
export const CACHES = "printward-show-";

/** Loads pictures ahead and keeps page, modules, styles and pictures for one person. */
export class Pictures {
  constructor({ number, person, onProgress, onReady }) {
    this.cacheName = `${CACHES}${number}-${person}`;
    Object.assign(this, { onProgress, onReady });
    this.images = new Map();
    this.kept = new Set();
    this.wanted = [];
    this.isClosed = false;
    this.hasWorker = false; // only with one can the page be opened again offline
  }

  /** Return whether this browser lets the page be kept here: over https or on this machine. */
  get canKeep() {
    return this.hasWorker && "caches" in window;
  }

  /** Ask the browser for a worker that answers while there is no network; it may refuse. */
  async register(address, scope) {
    try {
      this.hasWorker = Boolean(await navigator.serviceWorker.register(address, { scope }));
    } catch {
      this.hasWorker = false; // plain http on another host, or a browser told to keep nothing
    }
  }

  /** Return the decoded picture, undefined while it is not there. */
  get(id) {
    return this.images.get(id)?.image;
  }

  /** Load what is not there yet and let go of what is no longer wanted. */
  async load(pictures, files) {
    const all = new Map(pictures.map((picture) => [picture.id, picture]));
    this.wanted = [...(this.canKeep ? files : []), ...new Set(pictures.map((p) => p.url))];
    for (const id of [...this.images.keys()].filter((each) => !all.has(each))) await this.drop(id);
    const jobs = [...all.values()].filter((p) => !this.images.has(p.id)).map((p) => () => this.#loadPicture(p));
    if (this.canKeep) jobs.push(...files.filter((url) => !this.kept.has(url)).map((url) => () => this.#keepFile(url)));
    this.#report();
    const work = async () => {
      for (let job = jobs.shift(); job; job = jobs.shift()) {
        await job();
        this.#report();
      }
    };
    await Promise.all([work(), work(), work(), work()]);
  }

  /** Take a picture out of sight, memory and cache. */
  async drop(id) {
    const found = this.images.get(id);
    this.images.delete(id);
    if (!found) return;
    found.image.remove();
    found.image.removeAttribute("src");
    URL.revokeObjectURL(found.image.dataset.address);
    this.kept.delete(found.url);
    if (this.canKeep) await (await caches.open(this.cacheName)).delete(found.url);
  }

  /** Keep an address as it is now, in place of what was kept. */
  async refresh(urls) {
    if (!this.canKeep || this.isClosed) return;
    for (const url of urls) await this.#keepFile(url);
  }

  /** Delete what other people left in this browser. */
  async forgetOthers(person) {
    if (!("caches" in window)) return;
    for (const name of await caches.keys()) {
      if (name.startsWith(CACHES) && !name.endsWith(`-${person}`)) await caches.delete(name);
    }
  }

  /** Delete everything that was kept: the show is over. */
  async close() {
    this.isClosed = true;
    this.kept.clear();
    if ("caches" in window) await caches.delete(this.cacheName);
  }

  async #loadPicture(picture) {
    const response = await this.#fetch(picture.url);
    if (!response) return;
    await this.#put(picture.url, response.clone());
    const image = new Image();
    image.alt = picture.alt;
    image.dataset.address = URL.createObjectURL(await response.blob());
    image.src = image.dataset.address;
    try {
      await image.decode();
    } catch {
      return; // damaged on its way; it counts as missing and is tried again
    }
    this.images.set(picture.id, { image, url: picture.url });
    this.kept.add(picture.url);
    this.onReady(picture.id);
  }

  async #keepFile(url) {
    const response = await this.#fetch(url);
    if (!response) return;
    await this.#put(url, response);
    this.kept.add(url);
  }

  async #fetch(url) {
    try {
      const response = await fetch(url, { credentials: "same-origin" });
      return response.ok && !response.redirected ? response : null;
    } catch {
      return null;
    }
  }

  async #put(url, response) {
    if (!this.canKeep || this.isClosed) return;
    await (await caches.open(this.cacheName)).put(url, response);
  }

  #report() {
    this.onProgress(this.wanted.filter((url) => this.kept.has(url)).length, this.wanted.length);
  }
}
