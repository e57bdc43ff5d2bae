// A clock is often put right from two photos: those that are chosen stand in the fields already.
import { chosen } from "./choosing.js";

const photo = document.querySelector("#clock-photo");
const shows = document.querySelector("#clock-shows");

document.querySelector("#photos").addEventListener("chosen", () => {
  const [one, other, ...more] = chosen().map((tile) => tile.querySelector(".name").textContent);
  if (more.length) return;
  photo.value = one ?? "";
  shows.value = other ?? "";
});
