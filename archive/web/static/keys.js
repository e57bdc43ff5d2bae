// Keys that act at once, unless they are switched off: a letter may be typed by a voice or by a slip (WCAG 2.2, 2.1.4).
const box = document.querySelector("#single-keys");
const KEPT = "rivetbook-single-keys";

function show() {
  document.body.classList.toggle("no-keys", !box.checked);
}

box.checked = localStorage.getItem(KEPT) !== "off";
box.addEventListener("change", () => {
  localStorage.setItem(KEPT, box.checked ? "on" : "off");
  show();
});
show();

// Calls `act` with the event of a key that was pressed alone and not typed into a field. What has the focus and is
// `own`, such as a picture that is looked at closely, hears its keys all the same.
export function onSingleKey(act, own = null) {
  document.addEventListener("keydown", (event) => {
    if (event.target.matches("input:not([type=checkbox]), select, textarea") || event.ctrlKey || event.metaKey || event.altKey) return;
    if (box.checked || event.target === own) act(event);
  });
}
