// Pictures come when they are within one screen of the window, so that a long page asks for few.
const near = new IntersectionObserver(
  (seen) => {
    for (const { isIntersecting, target } of seen) if (isIntersecting) bring(target);
  },
  { rootMargin: "100% 0px" },
);

function bring(picture) {
  near.unobserve(picture);
  if (!picture.dataset.later) return; // it came and went and came again before it was looked for
  picture.src = picture.dataset.later;
  delete picture.dataset.later;
}

export function watch(root = document) {
  for (const picture of root.querySelectorAll("img[data-later]")) near.observe(picture);
}

watch();
// A printed page is seen whole.
addEventListener("beforeprint", () => document.querySelectorAll("img[data-later]").forEach(bring));
