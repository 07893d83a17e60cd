// Puts the page to work: reads its data, then light, sewing order, choices and details.

const proof = JSON.parse(document.getElementById("proof").textContent);
const byId = (id) => document.getElementById(id);
const root = document.documentElement;
root.classList.remove("still");

const lamp = { azimuth: proof.lamp.azimuth_deg, elevation: proof.lamp.elevation_deg };
const all = proof.stitches;
let sewn = all, variant = 0, pictures = null, waiting = false;
let whole = null;                // lights the whole picture; null without WebGL
let details = [];                // close-ups: place, canvas, what lights it

const stage = new Stage(proof.view, (what, at) => {
  if (what === "note") answer.addNote(at);
  else if (what === "turn") setLight(lamp.azimuth + 10 * at[0], lamp.elevation - 4 * at[1]);
  else aimAt([at[0] - stage.box.wide / 2, at[1] - stage.box.high / 2], 0.5 * Math.min(stage.box.wide, stage.box.high));
});
stage.root.setAttribute("aria-label", proof.words.stage_help);
const answer = new Answer(stage, proof);
answer.variant = () => variant;

// Where a lamp stands that is seen at (x, y) from the middle of a dome so wide.
function aimAt([x, y], reach) {
  const out = Math.min(Math.hypot(x, y) / reach, 1), { LOWEST_DEG, HIGHEST_DEG } = proof.lamp;
  const azimuth = out > 0.02 ? (Math.atan2(y, x) * 180) / Math.PI : lamp.azimuth;
  setLight(azimuth, HIGHEST_DEG - out * (HIGHEST_DEG - LOWEST_DEG));
}

function setLight(azimuth, elevation) {
  lamp.azimuth = ((azimuth % 360) + 360) % 360;
  lamp.elevation = Math.min(Math.max(elevation, proof.lamp.LOWEST_DEG), proof.lamp.HIGHEST_DEG);
  byId("azimuth").value = lamp.azimuth;
  byId("elevation").value = lamp.elevation;
  const { LOWEST_DEG, HIGHEST_DEG } = proof.lamp;
  const out = 41 * ((HIGHEST_DEG - lamp.elevation) / (HIGHEST_DEG - LOWEST_DEG)), turn = (lamp.azimuth * Math.PI) / 180;
  const spot = byId("lamp").firstElementChild;
  spot.style.left = `${50 + out * Math.cos(turn)}%`;
  spot.style.top = `${50 + out * Math.sin(turn)}%`;
  draw();
}

const clock = (seconds) => {
  const minutes = Math.floor(Math.round(seconds) / 60), rest = String(Math.round(seconds) % 60).padStart(2, "0");
  return `${minutes}:${rest}`;
};

function setSewn(count) {
  sewn = Math.min(Math.max(count, 0), all);
  const steps = proof.steps.filter((step) => step.last >= step.first);
  const now = steps.findLast((step) => step.first < sewn) ?? steps[0];
  const share = Math.min((sewn - now.first) / (now.last + 1 - now.first), 1);
  const time = clock(now.starts_s + Math.max(share, 0) * now.seconds);
  byId("sewn").value = sewn;
  const said = answer.say("count", { sewn: sewn.toLocaleString(root.lang), all: all.toLocaleString(root.lang), time });
  byId("count").textContent = said;
  byId("sewn").setAttribute("aria-valuetext", said);
  for (const item of byId("steps").children) item.classList.toggle("now", Number(item.dataset.step) === now.number && sewn < all);
  draw();
}

function draw() {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    if (whole) drawNow();
  });
}

function drawNow() {
  const asDrawn = lamp.azimuth === proof.lamp.azimuth_deg && lamp.elevation === proof.lamp.elevation_deg && sewn === all;
  const show = (canvas, relighter, perStitch) => {
    canvas.classList.toggle("lit", !asDrawn || canvas !== whole.canvas);
    if (asDrawn && canvas === whole.canvas) return;
    const upto = sewn === all ? -1 : sewn === 0 ? 0 : 1 + Math.floor((sewn - 1) * perStitch);
    relighter.light(lamp.azimuth, lamp.elevation, upto);
  };
  show(whole.canvas, whole, proof.order_per_stitch);
  for (const one of details) if (one.relighter && inSight(one)) show(one.canvas, one.relighter, proof.order_per_stitch);
}

const decode = async (files) =>
  Object.fromEntries(await Promise.all(Object.entries(files).map(async ([name, text]) => [name, await bitmapOf(text)])));

const lampOf = (k) => ({ ...proof.lamp, ...proof.variants[k].lamp });

async function openPictures(k) {
  const { main, near } = pictures[k], view = proof.view, bitmaps = await decode(main);
  if (k !== variant) return;     // another one was chosen meanwhile
  const canvas = document.createElement("canvas");
  canvas.setAttribute("aria-hidden", "true");
  canvas.style.width = `${view.cols}px`;
  canvas.style.height = `${view.rows}px`;
  const relighter = new Relighter(canvas, proof.shaders, lampOf(k));
  const [rows, cols] = proof.variants[k].size;
  relighter.load(bitmaps, rows, cols);
  whole?.close();
  for (const one of details) one.relighter ? one.relighter.close() : one.canvas.remove();
  byId("still").after(canvas);
  whole = relighter;
  canvas.addEventListener("webglcontextlost", () => whole === relighter && lightFails());
  details = near.map((files, number) => ({ files, place: proof.variants[k].near[number], number, variant: k, ...detailCanvas() }));
  setSewn(sewn);
  lookNear();
}

function detailCanvas() {
  const canvas = document.createElement("canvas");
  canvas.setAttribute("aria-hidden", "true");
  canvas.className = "detail";
  byId("sheet").append(canvas);
  return { canvas, relighter: null };
}

const inSight = ({ place }) => {
  const [left, top] = stage.pixelOf([place.left_mm, place.top_mm]);
  const side = place.size_mm * stage.scale, near = stage.scale * devicePixelRatio > 1.25 * proof.view.px_per_mm;
  return near && left < stage.box.wide && top < stage.box.high && left + side > 0 && top + side > 0;
};

// Close-ups are lit when somebody comes near them, and not before.
function lookNear() {
  for (const one of details) {
    const seen = inSight(one);
    one.canvas.hidden = !seen;
    if (!seen || one.opening) continue;
    one.opening = true;
    const { place, canvas } = one, scale = proof.view.px_per_mm;
    canvas.style.left = `${place.left_mm * scale}px`;
    canvas.style.top = `${place.top_mm * scale}px`;
    canvas.style.width = canvas.style.height = `${place.size_mm * scale}px`;
    decode(one.files).then((bitmaps) => {
      if (!details.includes(one)) return;
      const relighter = new Relighter(canvas, proof.shaders, lampOf(one.variant));
      relighter.load(bitmaps, place.rows, place.cols);
      one.relighter = relighter;
      draw();
    }).catch(() => canvas.remove());
  }
}

function lightFails() {
  root.classList.add("flat");
  byId("without").hidden = false;
  whole?.canvas.remove();
  whole = null;
}

function listen() {
  for (const one of document.querySelectorAll("input[name=drag]"))
    one.addEventListener("change", () => stage.setDrag(one.value));
  byId("in").addEventListener("click", () => stage.zoom(stage.scale * 1.4));
  byId("out").addEventListener("click", () => stage.zoom(stage.scale / 1.4));
  byId("fit").addEventListener("click", () => stage.fit());
  byId("actual").addEventListener("click", () => stage.zoom(stage.screenPxPerMm));
  byId("azimuth").addEventListener("input", (event) => setLight(Number(event.target.value), lamp.elevation));
  byId("elevation").addEventListener("input", (event) => setLight(lamp.azimuth, Number(event.target.value)));
  byId("studio").addEventListener("click", () => setLight(proof.lamp.azimuth_deg, proof.lamp.elevation_deg));
  byId("sewn").addEventListener("input", (event) => setSewn(Number(event.target.value)));
  byId("ruler").addEventListener("input", (event) => calibrate(Number(event.target.value)));
  const pad = byId("lamp");
  const aim = (event) => {
    const box = pad.getBoundingClientRect(), reach = box.width * 0.41;
    aimAt([event.clientX - box.left - box.width / 2, event.clientY - box.top - box.height / 2], reach);
  };
  pad.addEventListener("pointerdown", (event) => {
    event.stopPropagation();
    pad.setPointerCapture(event.pointerId);
    aim(event);
  });
  pad.addEventListener("pointermove", (event) => pad.hasPointerCapture(event.pointerId) && aim(event));
  for (const one of document.querySelectorAll("input[name=variant]"))
    one.addEventListener("change", () => choose(Number(one.value)));
}

// So many screen pixels are a millimetre, as held against a bank card.
function calibrate(pxPerMm) {
  stage.screenPxPerMm = pxPerMm;
  byId("card").style.width = `${pxPerMm * proof.card_mm}px`;
  byId("ruler").value = pxPerMm;
  stage.show();
}

function choose(k) {
  variant = k;
  root.dataset.variant = k;
  byId("still").src = `data:image/webp;base64,${pictures[k].main.picture}`;
  if (whole) openPictures(k).catch(lightFails);
}

function stepButtons() {
  for (const item of byId("steps").children) {
    if (!("last" in item.dataset)) continue;
    const button = document.createElement("button");
    button.type = "button";
    button.append(...item.firstElementChild.childNodes);
    item.firstElementChild.replaceWith(button);
    button.addEventListener("click", () => setSewn(Number(item.dataset.last) + 1));
  }
}

function nearButtons() {
  const near = proof.variants[0].near, home = byId("near");
  near.forEach((place, number) => {
    const button = document.createElement("button"), image = document.createElement("img");
    button.type = "button";
    image.alt = "";
    image.src = `data:image/webp;base64,${pictures[0].near[number].picture}`;
    button.append(image, answer.say("near_one", { number: number + 1 }));
    const half = place.size_mm / 2;
    button.addEventListener("click", () => {
      const room = 0.92 * Math.min(stage.box.wide, stage.box.high);
      stage.root.scrollIntoView({ block: "nearest" });
      stage.lookAt([place.left_mm + half, place.top_mm + half], room / place.size_mm);
    });
    home.lastElementChild.append(button);
  });
  home.hidden = !near.length;
}

stage.moved = lookNear;
listen();
calibrate(stage.screenPxPerMm);
if (!proof.lamp.irradiance) root.classList.add("flat");
// After the first picture is up, everything that takes time.
setTimeout(async () => {
  pictures = JSON.parse(byId("pictures").textContent);
  pictures[0].main.picture = byId("still").src.split(",")[1];
  nearButtons();
  try {
    if (proof.lamp.irradiance) {
      await openPictures(0);
      stepButtons();
      setLight(lamp.azimuth, lamp.elevation);
    }
  } catch {
    lightFails();
  }
  root.dataset.ready = root.classList.contains("flat") ? "flat" : "lit";
}, 30);
