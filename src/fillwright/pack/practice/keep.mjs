// What the page remembers on this device. Some browsers forbid a file to remember anything: then it works without.

export class Memory {
  constructor(key, fresh) {
    this.key = key;
    this.state = { ...fresh };
    try {
      const found = JSON.parse(globalThis.localStorage.getItem(key));
      for (const name of Object.keys(fresh)) {
        if (found && typeof found[name] === typeof fresh[name] && found[name] !== null) this.state[name] = found[name];
      }
    } catch {
      // nothing kept, or nothing readable
    }
  }

  /** Change something and keep it. */
  set(changes) {
    Object.assign(this.state, changes);
    try {
      globalThis.localStorage.setItem(this.key, JSON.stringify(this.state));
    } catch {
      // kept until the page is closed
    }
  }
}
