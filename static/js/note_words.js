// Words marked in a report go into the form that notes what they say; typing them does as well.

/** Return the marked words of a report, without the numbers of readings; "" for none. */
function markedWords() {
  const selection = document.getSelection();
  if (!selection || selection.isCollapsed || selection.rangeCount === 0) return "";
  const range = selection.getRangeAt(0);
  const place = range.commonAncestorContainer;
  const element = place.nodeType === Node.ELEMENT_NODE ? place : place.parentElement;
  if (!element?.closest(".story")) return "";
  const part = range.cloneContents();
  for (const number of part.querySelectorAll("sup")) number.remove();
  return part.textContent.replace(/\s+/g, " ").trim();
}

document.addEventListener("selectionchange", () => {
  const words = markedWords();
  const field = document.getElementById("note-words");
  if (words && field) field.value = words.slice(0, field.maxLength);
});
