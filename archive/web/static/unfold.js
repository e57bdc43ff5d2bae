// Who goes back to mend what could not be kept finds it unfolded: the browser puts back what was typed, wherever
// `autocomplete` is not off, but folds the forms.
addEventListener("pageshow", () => {
  for (const field of document.querySelectorAll("details :is(input:not([type=hidden]), textarea)"))
    if (field.value !== field.defaultValue) field.closest("details").open = true;
});
