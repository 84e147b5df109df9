/* Change a text only where it is another one: the page is not laid out again for nothing. */

export function write(element, text) {
  if (element.textContent !== text) {
    element.textContent = text;
  }
}
