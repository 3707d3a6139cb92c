// The elements of the page, by their ids.

/** Return the element of that id. @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`The page has no element "${id}".`);
  return element;
}

/** Return the input of that id. @param {string} id @returns {HTMLInputElement} */
export function inputById(id) {
  return /** @type {HTMLInputElement} */ (byId(id));
}

/** Show a message to the student, also to a screen reader. @param {string} words */
export function say(words) {
  byId("state").textContent = words;
}
