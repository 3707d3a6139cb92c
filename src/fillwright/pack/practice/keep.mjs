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
    /** @type {T} */
    this.state = { ...defaults };
    try {
      const kept = JSON.parse(globalThis.localStorage.getItem(key) ?? "null");
      for (const name of /** @type {(keyof T)[]} */ (Object.keys(defaults))) {
        if (kept && typeof kept[name] === typeof defaults[name] && kept[name] !== null) this.state[name] = kept[name];
      }
    } catch {
      // nothing kept, or nothing readable
    }
  }

  /** Change something and keep it. @param {Partial<T>} changes */
  set(changes) {
    Object.assign(this.state, changes);
    try {
      globalThis.localStorage.setItem(this.key, JSON.stringify(this.state));
    } catch {
      // kept until the page is closed
    }
  }
}
