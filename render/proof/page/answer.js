// Notes on the picture and the customer's answer: a text to mail and a small file. Nothing is sent.

class Answer {
  constructor(stage, proof) {
    this.stage = stage;
    this.proof = proof;
    this.words = proof.words;
    this.variant = () => 0;
    this.list = document.getElementById("notes");
    document.getElementById("add").addEventListener("click", () => this.addNote([...stage.centre]));
    document.getElementById("form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
    document.getElementById("copy").addEventListener("click", () => this.copy());
  }

  say(key, values = {}) {
    return this.words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  }

  place([x, y]) {
    const write = (value) => value.toFixed(0);
    return this.say("note_place", { x: write(x), y: write(y) });
  }

  addNote(place) {
    const item = document.createElement("li"), number = this.list.children.length + 1;
    const label = document.createElement("label"), text = document.createElement("textarea");
    const title = document.createElement("span"), row = document.createElement("div");
    const remove = document.createElement("button");
    label.className = "field";
    text.rows = 2;
    text.maxLength = 2000;
    row.className = "row";
    remove.type = "button";
    remove.textContent = this.words.note_remove;
    label.append(title, text);
    row.append(remove);
    item.append(label, row);
    item.pin = this.stage.addPin(number, place, "", () => this.number());
    item.pin.addEventListener("click", () => text.focus());
    remove.addEventListener("click", () => {
      item.pin.remove();
      item.remove();
      this.number();
      document.getElementById("add").focus();
    });
    this.list.append(item);
    this.number();
    text.focus({ preventScroll: true });
    item.scrollIntoView({ block: "nearest" });
  }

  number() {
    [...this.list.children].forEach((item, k) => {
      const name = this.say("note", { number: k + 1 }), where = this.place(item.pin.place);
      item.querySelector("span").textContent = `${name} · ${where}`;
      item.querySelector("button").setAttribute("aria-label", `${this.words.note_remove}: ${name}`);
      this.stage.namePin(item.pin, k + 1, `${name}, ${where}`);
    });
  }

  read() {
    const decision = document.querySelector("input[name=decision]:checked")?.value ?? "";
    const corner = this.proof.view.corner_mm, round = (value) => Math.round(value * 10) / 10;
    return {
      proof_answer: 1,
      decision,
      name: document.getElementById("name").value.trim(),
      comment: document.getElementById("comment").value.trim(),
      checked: document.getElementById("checked").checked,
      notes: [...this.list.children].map((item, k) => ({
        number: k + 1,
        x_mm: round(item.pin.place[0] + corner[0]),
        y_mm: round(item.pin.place[1] + corner[1]),
        text: item.querySelector("textarea").value.trim(),
      })),
      choice: this.proof.variants[this.variant()].name,
      written: new Date().toISOString().slice(0, 10),
      ...this.proof.about,
    };
  }

  // What is missing, in words, or nothing.
  missing(answer) {
    if (!answer.decision) return "missing_decision";
    if (answer.decision === "approved" && !answer.checked) return "missing_check";
    const said = answer.comment || answer.notes.some((note) => note.text);
    if (answer.decision === "changes" && !said) return "missing_change";
    return answer.name ? "" : "missing_name";
  }

  write() {
    const answer = this.read(), lacks = this.missing(answer);
    document.getElementById("missing").textContent = lacks && this.words[lacks];
    document.getElementById("written").hidden = Boolean(lacks);
    document.getElementById("told").textContent = "";
    if (lacks) {
      const field = { missing_decision: "input[name=decision]", missing_check: "#checked", missing_change: "#comment" };
      document.querySelector(field[lacks] ?? "#name").focus();
      return;
    }
    const text = this.mailText(answer), subject = `${this.proof.title}: ${this.words[answer.decision]}`;
    document.getElementById("mail").value = text;
    const send = document.getElementById("send"), save = document.getElementById("save");
    send.href = `mailto:?subject=${encodeURIComponent(subject)}&body=${encodeURIComponent(text.replace(/\n/g, "\r\n"))}`;
    URL.revokeObjectURL(save.href);
    save.href = URL.createObjectURL(new Blob([JSON.stringify(answer, null, 2) + "\n"], { type: "application/json" }));
    save.download = this.proof.answer_file;
    const mail = document.getElementById("mail");
    mail.focus();
    mail.setSelectionRange(0, 0);
    mail.scrollTop = 0;
  }

  mailText(answer) {
    const { words } = this, about = this.proof.about;
    const lines = [`${this.proof.title}: ${words[answer.decision]}`, ""];
    if (answer.decision === "approved") lines.push(words.checked_said);
    if (this.proof.variants.length > 1) lines.push(`${words.choice}: ${answer.choice}`);
    if (answer.comment) lines.push("", answer.comment);
    if (answer.notes.length) lines.push("");
    for (const note of answer.notes) {
      const item = this.list.children[note.number - 1];
      lines.push(`${this.say("note", { number: note.number })} (${this.place(item.pin.place)}): ${note.text}`);
    }
    lines.push("", `${words.name}: ${answer.name}`, `${words.date}: ${answer.written}`);
    for (const key of ["order", "revision", "design"]) if (about[key]) lines.push(`${words[key]}: ${about[key]}`);
    lines.push(`${words.file_print}: ${about.file_fingerprint}`, `${words.stitch_print}: ${about.stitch_fingerprint}`);
    return `${lines.join("\n").replace(/\n{3,}/g, "\n\n")}\n`;
  }

  async copy() {
    const mail = document.getElementById("mail");
    mail.select();
    // A page from disk may not use the clipboard by itself; the old command copies what is selected.
    const done = document.execCommand("copy");
    document.getElementById("told").textContent = done ? this.words.copied : "";
  }
}
