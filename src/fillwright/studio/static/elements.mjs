// The elements of a page, by their ids.

/** Return the element of that id. @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`The page has no element "${id}".`);
  return element;
}

/** Return the input of that id, or null. @param {string} id */
export function inputById(id) {
  return /** @type {HTMLInputElement | null} */ (document.getElementById(id));
}

/** Return true if the box of that id is there and ticked. @param {string} id */
export function isTicked(id) {
  return inputById(id)?.checked ?? false;
}

/** Return the first element for a selector. @param {Element | Document} root @param {string} selector @returns {HTMLElement} */
export function find(root, selector) {
  const element = root.querySelector(selector);
  if (!element) throw new Error(`The page has no element "${selector}".`);
  return /** @type {HTMLElement} */ (element);
}
