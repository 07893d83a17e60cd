// The picture on its stage: moving it, zooming, the scale bar, and the notes pinned on it.
// Places are millimetres from the upper left corner of the picture.

class Stage {
  constructor(view, told) {
    this.view = view;           // px_per_mm, rows, cols of the whole picture
    this.told = told;           // called with a place when somebody points at one
    this.root = document.getElementById("stage");
    this.sheet = document.getElementById("sheet");
    this.pins = document.getElementById("pins");
    this.screenPxPerMm = 96 / 25.4;
    this.drag = "look";
    this.pointers = new Map();
    this.moved = () => {};
    this.sheet.style.width = `${view.cols}px`;
    this.sheet.style.height = `${view.rows}px`;
    this.width = view.cols / view.px_per_mm;
    this.height = view.rows / view.px_per_mm;
    // As wide as the picture is, but no higher than the window has room for.
    this.root.style.maxWidth = `min(100%, calc((100vh - 15.5rem) * ${view.cols / view.rows}))`;
    this.root.style.aspectRatio = `${view.cols} / ${view.rows}`;
    this.root.tabIndex = 0;
    this.root.setAttribute("role", "group");
    this.#listen();
    new ResizeObserver(() => (this.fitted ? this.fit() : this.show())).observe(this.root);
    this.fit();
  }

  get box() {
    return { wide: this.root.clientWidth, high: this.root.clientHeight };
  }

  get leastScale() {
    return Math.min(this.box.wide / this.width, this.box.high / this.height);
  }

  fit() {
    this.scale = this.leastScale;
    this.centre = [this.width / 2, this.height / 2];
    this.fitted = true;
    this.show();
  }

  // So many screen pixels a millimetre, keeping the place under `at` (pixels on the stage) where it is.
  zoom(scale, at = [this.box.wide / 2, this.box.high / 2]) {
    const held = this.placeAt(at);
    this.scale = Math.min(Math.max(scale, Math.min(this.leastScale, this.screenPxPerMm) * 0.8), 120);
    this.fitted = false;
    const now = this.placeAt(at);
    this.centre = [this.centre[0] + held[0] - now[0], this.centre[1] + held[1] - now[1]];
    this.show();
  }

  lookAt(place, scale) {
    this.scale = scale;
    this.centre = place;
    this.fitted = false;
    this.show();
  }

  moveBy(dx, dy) {
    this.centre = [this.centre[0] - dx / this.scale, this.centre[1] - dy / this.scale];
    this.fitted = false;
    this.show();
  }

  placeAt([x, y]) {
    return [this.centre[0] + (x - this.box.wide / 2) / this.scale, this.centre[1] + (y - this.box.high / 2) / this.scale];
  }

  pixelOf([x, y]) {
    return [(x - this.centre[0]) * this.scale + this.box.wide / 2, (y - this.centre[1]) * this.scale + this.box.high / 2];
  }

  show() {
    this.centre = [Math.min(Math.max(this.centre[0], 0), this.width), Math.min(Math.max(this.centre[1], 0), this.height)];
    const [left, top] = this.pixelOf([0, 0]);
    this.sheet.style.transform = `translate(${left}px, ${top}px) scale(${this.scale / this.view.px_per_mm})`;
    this.root.classList.toggle("at-fit", this.fitted);
    this.root.style.touchAction = this.fitted && this.drag === "look" ? "pan-y" : "none";
    document.getElementById("percent").textContent = `${Math.round((100 * this.scale) / this.screenPxPerMm)} %`;
    for (const pin of this.pins.children) this.#placePin(pin);
    this.#scaleBar();
    this.moved();
  }

  setDrag(drag) {
    this.drag = drag;
    this.root.classList.toggle("to-light", drag === "light");
    this.root.classList.toggle("to-note", drag === "note");
    this.show();
  }

  addPin(number, place, label, changed) {
    const pin = document.createElement("button");
    pin.type = "button";
    pin.place = place;
    pin.append(document.createElement("span"));
    pin.changed = changed;
    this.pins.append(pin);
    this.#pinEvents(pin);
    this.namePin(pin, number, label);
    this.#placePin(pin);
    return pin;
  }

  namePin(pin, number, label) {
    pin.firstChild.textContent = number;
    pin.setAttribute("aria-label", label);
  }

  #placePin(pin) {
    const [x, y] = this.pixelOf(pin.place);
    pin.style.left = `${x}px`;
    pin.style.top = `${y}px`;
  }

  #movePin(pin, place) {
    pin.place = [Math.min(Math.max(place[0], 0), this.width), Math.min(Math.max(place[1], 0), this.height)];
    this.#placePin(pin);
    pin.changed(pin);
  }

  #pinEvents(pin) {
    pin.addEventListener("pointerdown", (event) => {
      event.stopPropagation();
      pin.setPointerCapture(event.pointerId);
    });
    pin.addEventListener("pointermove", (event) => {
      if (pin.hasPointerCapture(event.pointerId)) this.#movePin(pin, this.placeAt(this.#at(event)));
    });
    pin.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!step) return;
      event.preventDefault();
      event.stopPropagation();
      this.#movePin(pin, [pin.place[0] + step[0], pin.place[1] + step[1]]);
    });
  }

  #at(event) {
    const box = this.root.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  #listen() {
    const { root } = this;
    root.addEventListener("pointerdown", (event) => {
      if (event.target.closest("#lamp")) return;
      root.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, this.#at(event));
      this.pressed = { at: this.#at(event), still: true };
      root.classList.toggle("moving", this.drag === "look");
      if (this.drag === "light") this.told("light", this.#at(event));
    });
    root.addEventListener("pointermove", (event) => this.#pointerMoves(event));
    for (const kind of ["pointerup", "pointercancel"])
      root.addEventListener(kind, (event) => {
        if (!this.pointers.delete(event.pointerId)) return;
        root.classList.remove("moving");
        if (kind === "pointerup" && this.drag === "note" && this.pressed?.still)
          this.told("note", this.placeAt(this.#at(event)));
      });
    root.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(this.scale * Math.exp(-event.deltaY / (event.deltaMode ? 18 : 420)), this.#at(event));
    }, { passive: false });
    root.addEventListener("keydown", (event) => this.#key(event));
  }

  #pointerMoves(event) {
    const from = this.pointers.get(event.pointerId), to = this.#at(event);
    if (!from) return;
    if (Math.hypot(to[0] - this.pressed.at[0], to[1] - this.pressed.at[1]) > 6) this.pressed.still = false;
    if (this.pointers.size === 2) {
      const [other] = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
      const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
      this.moveBy((to[0] - from[0]) / 2, (to[1] - from[1]) / 2);
      this.zoom((this.scale * apart(to)) / apart(from), [(to[0] + other[0]) / 2, (to[1] + other[1]) / 2]);
    } else if (this.drag === "light") this.told("light", to);
    else if (this.drag === "look") this.moveBy(to[0] - from[0], to[1] - from[1]);
    this.pointers.set(event.pointerId, to);
  }

  #key(event) {
    if (event.target !== this.root || event.ctrlKey || event.metaKey || event.altKey) return;
    const way = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (way && this.drag === "light") this.told("turn", [-way[0], -way[1]]);
    else if (way) this.moveBy(way[0] * 40, way[1] * 40);
    else if (event.key === "+" || event.key === "=") this.zoom(this.scale * 1.25);
    else if (event.key === "-") this.zoom(this.scale / 1.25);
    else if (event.key === "0") this.fit();
    else if (event.key === "Enter" && this.drag === "note") this.told("note", [...this.centre]);
    else return;
    event.preventDefault();
  }

  #scaleBar() {
    const lengths = [1, 2, 5, 10, 20, 50, 100, 200], wanted = Math.min(this.box.wide / 4, 120);
    const mm = lengths.filter((one) => one * this.scale <= wanted).pop() ?? 1;
    const bar = document.getElementById("scale");
    bar.firstElementChild.style.width = `${mm * this.scale}px`;
    bar.lastElementChild.textContent = `${mm} mm`;
  }
}
