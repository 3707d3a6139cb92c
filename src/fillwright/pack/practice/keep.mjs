// What the page keeps on this device. Some browsers let a file keep nothing: then the page works and forgets.

/**
 * Settings and progress under one key of the browser's storage.
 * @template {Record<string, any>} T
 */
export class Memory {
  /**
   * Read what is kept; a value of another type than the default's is left aside.
   * @param {string} key
   * @param {T} defaults
   */
  constructor(key, defaults) {
    this.key = key;
    this.defaults = defaults;
    /** @type {T} */
    this.state = { ...defaults, ...this.read() };
  }

  /** Return what is kept now, by this tab or another one. @returns {Partial<T>} */
  read() {
    /** @type {Partial<T>} */
    const readable = {};
    try {
      const kept = JSON.parse(globalThis.localStorage.getItem(this.key) ?? "null");
      for (const name of /** @type {(keyof T)[]} */ (Object.keys(this.defaults))) {
        if (kept && typeof kept[name] === typeof this.defaults[name] && kept[name] !== null) readable[name] = kept[name];
      }
    } catch {
      // nothing kept, or nothing readable
    }
    return readable;
  }

  /** Change something and keep it. @param {Partial<T>} changes */
  set(changes) {
    this.update(() => changes);
  }

  /**
   * Change something that other tabs change too, and keep it. What they kept meanwhile stays.
   * @param {(kept: T) => Partial<T>} change returns the changes to what is kept now
   */
  update(change) {
    const kept = { ...this.state, ...this.read() };
    const changes = change(kept);
    Object.assign(this.state, changes);
    try {
      globalThis.localStorage.setItem(this.key, JSON.stringify({ ...kept, ...changes }));
    } catch {
      // kept until the page is closed
    }
  }

  /**
   * Take over some values whenever another tab changes them.
   * @param {(keyof T)[]} names
   * @param {() => void} show called after that
   */
  follow(names, show) {
    globalThis.addEventListener("storage", (event) => {
      if (event.key !== this.key) return;
      const kept = this.read();
      for (const name of names) if (kept[name] !== undefined) this.state[name] = /** @type {T[keyof T]} */ (kept[name]);
      show();
    });
  }
}
