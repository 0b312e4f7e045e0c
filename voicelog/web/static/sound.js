// Playing the seconds of a recording, and drawing its outline.

const player = new Audio();
let playing = null;

export function play(audio, from, to) {
  const address = `/sound/${audio}${from === undefined ? "" : `?from=${from}&to=${to}`}`;
  const again = playing === address && !player.paused;
  player.pause();
  playing = address;
  if (again) return;
  player.src = address;
  player.play().catch(() => {});
}

export async function draw(canvas, audio, from, to) {
  const wide = Math.max(60, Math.round(canvas.clientWidth || 600));
  const high = canvas.clientHeight || 48;
  const answer = await fetch(`/sound/${audio}/peaks?n=${Math.round(wide / 3)}&from=${from}&to=${to}`);
  if (!answer.ok) return;
  const peaks = await answer.json();
  const sharp = devicePixelRatio || 1;
  canvas.width = wide * sharp;
  canvas.height = high * sharp;
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  pen.fillStyle = getComputedStyle(canvas).color;
  const most = Math.max(8, ...peaks);
  peaks.forEach((peak, at) => {
    const tall = Math.max(1, (peak / most) * (high - 2));
    pen.fillRect(at * 3, (high - tall) / 2, 2, tall);
  });
}

document.addEventListener("click", ({ target }) => {
  const place = target.closest("[data-play]")?.closest("[data-audio]");
  if (place) play(place.dataset.audio, place.dataset.from, place.dataset.to);
});
