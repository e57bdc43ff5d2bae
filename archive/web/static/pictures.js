// Pictures come when they are within one screen of the window, so that a long page asks for few.
const near = new IntersectionObserver(
  (seen) => {
    for (const { isIntersecting, target } of seen) {
      if (!isIntersecting) continue;
      target.src = target.dataset.later;
      delete target.dataset.later;
      near.unobserve(target);
    }
  },
  { rootMargin: "100% 0px" },
);

export function watch(root = document) {
  for (const picture of root.querySelectorAll("img[data-later]")) near.observe(picture);
}

watch();
// A printed page is seen whole.
addEventListener("beforeprint", () => {
  for (const picture of document.querySelectorAll("img[data-later]")) picture.src = picture.dataset.later;
});
