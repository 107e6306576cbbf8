"use strict";
// A line in each figure's picture shows where its sound is; a click on the picture goes there.
for (const figure of document.querySelectorAll(".figure")) {
  const picture = figure.querySelector("svg[data-scale]");
  const line = picture && picture.querySelector(".now");
  const sounds = [...figure.querySelectorAll("audio")];
  if (!line || !sounds.length) continue;
  const left = Number(picture.dataset.left);
  const scale = Number(picture.dataset.scale);
  const room = picture.parentElement;
  let latest = sounds[0];

  const place = () => {
    const x = left + latest.currentTime * scale;
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    line.setAttribute("visibility", "visible");
    if (!latest.paused && (x < room.scrollLeft + left || x > room.scrollLeft + room.clientWidth - 40)) {
      room.scrollLeft = x - left;
    }
  };
  const move = () => {
    place();
    if (!latest.paused) requestAnimationFrame(move);
  };
  for (const sound of sounds) {
    sound.addEventListener("play", () => {
      for (const other of document.querySelectorAll("audio")) if (other !== sound) other.pause();
      latest = sound;
      move();
    });
    sound.addEventListener("seeking", () => {
      latest = sound;
      place();
    });
  }
  picture.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
    latest.currentTime = Math.max(0, (at.x - left) / scale);
  });
}
