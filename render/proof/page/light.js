// Lights one picture anew: planes in, canvas out. The arithmetic is that of web_light.py.

const bytesOf = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));

const bitmapOf = (text) =>
  createImageBitmap(new Blob([bytesOf(text)], { type: "image/webp" }), {
    premultiplyAlpha: "none",
    colorSpaceConversion: "none",
  });

const direction = (azimuthDeg, elevationDeg) => {
  const turn = (azimuthDeg * Math.PI) / 180, up = (elevationDeg * Math.PI) / 180;
  return [Math.cos(turn) * Math.cos(up), Math.sin(turn) * Math.cos(up), Math.sin(up)];
};

// Points of a round lamp, on the ring that halves its disc.
const lampPoints = (azimuthDeg, elevationDeg, sizeDeg, count) => {
  const [x, y, z] = direction(azimuthDeg, elevationDeg);
  const turn = (azimuthDeg * Math.PI) / 180, side = [-Math.sin(turn), Math.cos(turn)];
  const up = [-z * side[1], z * side[0], x * side[1] - y * side[0]];
  const radius = Math.tan((sizeDeg * Math.PI) / 360) * Math.SQRT1_2;
  return Array.from({ length: count }, (_, k) => {
    const c = radius * Math.cos((2 * Math.PI * k) / count), s = radius * Math.sin((2 * Math.PI * k) / count);
    const p = [x + c * up[0] + s * side[0], y + c * up[1] + s * side[1], z + c * up[2]];
    const length = Math.hypot(...p);
    return p.map((part) => part / length);
  });
};

// Unpolarised reflectance of a dielectric from air (Born & Wolf, Principles of Optics).
const fresnel = (index, cosine) => {
  const inside = Math.sqrt(1 - (1 - cosine * cosine) / (index * index));
  const across = (cosine - index * inside) / (cosine + index * inside);
  const along = (index * cosine - inside) / (index * cosine + inside);
  return (across * across + along * along) / 2;
};

const whiteCard = (lamp, elevationDeg) => {
  const share = (lamp.irradiance * Math.sin((elevationDeg * Math.PI) / 180)) / Math.PI;
  const card = lamp.still_card.map((still, k) => still + share * lamp.colour_linear[k]);
  const mean = (card[0] + card[1] + card[2]) / 3;
  return card.map((part) => mean ** (1 - lamp.white_balance) * part ** lamp.white_balance);
};

class Relighter {
  constructor(canvas, shaders, lamp) {
    this.canvas = canvas;
    this.lamp = lamp;
    this.gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false });
    if (!this.gl || this.gl.getParameter(this.gl.MAX_TEXTURE_SIZE) < 4096) throw new Error("no WebGL2");
    const fit = (text) => this.#constants(text.replace("SHARED", shaders.lamp));
    this.tablePass = this.#program(shaders.whole, fit(shaders.table));
    this.loadPass = this.#program(shaders.whole, fit(shaders.load));
    this.framePass = this.#program(shaders.whole, fit(shaders.frame));
    const rows = lamp.kinds * lamp.TILTS, cols = lamp.AZIMUTHS * lamp.ROLLS;
    this.table = this.#texture(cols, rows);
    this.norms = this.#scales(lamp);
  }

  // Takes the picture away and lets go of its context: browsers have only so many, and end the oldest.
  close() {
    this.canvas.remove();
    this.gl.getExtension("WEBGL_lose_context")?.loseContext();
  }

  // The pictures and planes of one picture, as bitmaps by name.
  load(bitmaps, rows, cols) {
    const { gl } = this;
    Object.assign(this, { rows, cols });
    this.canvas.width = cols;
    this.canvas.height = rows;
    const given = Object.fromEntries(
      Object.entries(bitmaps).map(([name, bitmap]) => [name, this.#upload(bitmap)]),
    );
    const [lies, rest, sewn, orders] = [0, 1, 2, 3].map(() => this.#texture(cols, rows));
    this.#fillTable(this.lamp.azimuth_deg, this.lamp.elevation_deg);
    const grey = ["order_high", "order_low", "before0_high", "before0_low", "before1_high", "before1_low", "block",
      "sides", "azimuth", "tilt", "roll", "body", "picture"];
    const read = Object.fromEntries(grey.map((name) => [`u_${name}`, given[name]]));
    this.#draw(this.loadPass, [lies, rest, sewn, orders], cols, rows, { ...read, u_table: this.table }, (program) =>
      this.#lampUniforms(program, this.lamp.azimuth_deg, this.lamp.elevation_deg));
    for (const name of grey) gl.deleteTexture(given[name]);
    this.kept = {
      u_lies: lies, u_rest: rest, u_sewn: sewn, u_table: this.table, u_orders: orders,
      u_before0: given.before0, u_before1: given.before1, u_bare: given.bare,
    };
    this.shown = null;
  }

  // Draws the picture with the lamp there and sewn up to a step of the order (-1: all of it).
  light(azimuthDeg, elevationDeg, upto) {
    if (this.shown !== `${azimuthDeg} ${elevationDeg}`) this.#fillTable(azimuthDeg, elevationDeg);
    this.shown = `${azimuthDeg} ${elevationDeg}`;
    const { gl } = this, before = whiteCard(this.lamp, this.lamp.elevation_deg);
    const expose = whiteCard(this.lamp, elevationDeg).map((card, k) => before[k] / card);
    this.#draw(this.framePass, null, this.cols, this.rows, this.kept, (program) => {
      gl.uniform3fv(gl.getUniformLocation(program, "u_expose"), expose);
      gl.uniform1i(gl.getUniformLocation(program, "u_upto"), upto);
      gl.uniform1i(gl.getUniformLocation(program, "u_rows"), this.rows);
      this.#lampUniforms(program, azimuthDeg, elevationDeg);
    });
  }

  #fillTable(azimuthDeg, elevationDeg) {
    const { gl, lamp } = this;
    const points = lampPoints(azimuthDeg, elevationDeg, lamp.size_deg, lamp.POINTS);
    const rows = lamp.kinds * lamp.TILTS, cols = lamp.AZIMUTHS * lamp.ROLLS;
    this.#draw(this.tablePass, [this.table], cols, rows, { u_norms: this.norms }, (program) => {
      const at = (name) => gl.getUniformLocation(program, name);
      gl.uniform3fv(at("u_points"), points.flat());
      const rise = lamp.shape.flatMap((shape) =>
        points.map((p) => fresnel(shape[0], Math.sqrt((1 + p[2]) / 2)) / fresnel(shape[0], 1)));
      gl.uniform1fv(at("u_rise"), rise);
      gl.uniform4fv(at("u_skin"), lamp.shape.flatMap((shape) => shape.slice(2, 6)));
      gl.uniform4fv(at("u_once"), lamp.shape.flatMap((shape) => shape.slice(6, 10)));
      gl.uniform4fv(at("u_dyed"), lamp.shape.flatMap((shape) => shape.slice(10, 14)));
      gl.uniform3fv(at("u_gain"), lamp.shape.flatMap((shape) => shape.slice(14, 17)));
    });
  }

  #lampUniforms(program, azimuthDeg, elevationDeg) {
    const { gl, lamp } = this;
    const at = (name) => gl.getUniformLocation(program, name);
    const card = whiteCard(lamp, elevationDeg);
    gl.uniform4fv(at("u_dye"), lamp.dye.flat());
    gl.uniform1iv(at("u_kind"), lamp.kind);
    gl.uniform3fv(at("u_lamp"), lamp.colour_linear.map((part, k) => (lamp.irradiance * part) / card[k]));
    const place = ((((azimuthDeg % 360) + 360) % 360) / 360) * lamp.SIDES, first = Math.floor(place) % lamp.SIDES;
    gl.uniform3f(at("u_side"), first, (first + 1) % lamp.SIDES, place - Math.floor(place));
    const clear = (elevationDeg - lamp.CLEAR_FROM_DEG) / (lamp.CLEAR_AT_DEG - lamp.CLEAR_FROM_DEG);
    gl.uniform1f(at("u_clear"), Math.min(Math.max(clear, 0), 1));
  }

  #constants(text) {
    const { lamp } = this;
    const radians = (degrees) => ((degrees * Math.PI) / 180).toFixed(9);
    const values = {
      KINDS: lamp.kinds, BLOCKS: lamp.dye.length, POINTS: lamp.POINTS, AZIMUTHS: lamp.AZIMUTHS,
      TILTS: lamp.TILTS, ROLLS: lamp.ROLLS, BODIES: lamp.BODIES, TOP: lamp.TOP.toFixed(4), DEPTH_TOP: lamp.DEPTH_TOP.toFixed(4),
      REST_TOP: lamp.REST_TOP.toFixed(4), TILT_LIMIT: radians(lamp.TILT_LIMIT_DEG),
      ROLL_LIMIT: radians(lamp.ROLL_LIMIT_DEG),
    };
    return text.replace(/\b[A-Z_]{3,}\b/g, (name) => values[name] ?? name);
  }

  #program(vertex, fragment) {
    const { gl } = this, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
    return program;
  }

  #draw(program, targets, cols, rows, textures, uniforms) {
    const { gl } = this;
    gl.useProgram(program);
    let frame = null;
    if (targets) {
      frame = gl.createFramebuffer();
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      targets.forEach((texture, k) =>
        gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0 + k, gl.TEXTURE_2D, texture, 0));
      gl.drawBuffers(targets.map((_, k) => gl.COLOR_ATTACHMENT0 + k));
    } else gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    Object.entries(textures).forEach(([name, texture], unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.uniform1i(gl.getUniformLocation(program, name), unit);
    });
    uniforms(program);
    gl.viewport(0, 0, cols, rows);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    if (frame) gl.deleteFramebuffer(frame);
  }

  #texture(cols, rows, format = this.gl.RGBA8) {
    const { gl } = this, texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    if (cols) gl.texStorage2D(gl.TEXTURE_2D, 1, format, cols, rows);
    return texture;
  }

  #upload(bitmap) {
    const { gl } = this, texture = this.#texture(0, 0);
    gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE, bitmap);
    return texture;
  }

  #scales(lamp) {
    const { gl } = this, rows = lamp.kinds * lamp.TILTS;
    const texture = this.#texture(lamp.ROLLS, rows, gl.RG32F);
    const values = new Float32Array(bytesOf(lamp.scale).buffer);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, lamp.ROLLS, rows, gl.RG, gl.FLOAT, values);
    return texture;
  }
}
