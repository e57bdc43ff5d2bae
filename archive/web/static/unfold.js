// Who goes back to mend what could not be kept finds it unfolded: the browser puts back what was typed, wherever
// `autocomplete` is not off, but folds the forms.
addEventListener("pageshow", () => {
  for (const field of document.querySelectorAll("form[method=post] :is(input:not([type=hidden]), textarea)")) {
    const fold = field.closest("details");
    if (fold && field.value !== field.defaultValue) fold.open = true;
  }
});
