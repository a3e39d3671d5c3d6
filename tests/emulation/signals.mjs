// Movements come in; levels on the probe's, the mark's and the indicator's lines come out, in virtual time.

/** Levels on the board's inputs. They outlive a chip: a new one finds the lines as they are. */
export class Wires {
  constructor() {
    this.levels = new Map();
    this.chip = null;
  }

  attach(chip) {
    this.chip = chip;
    for (const [pin, level] of this.levels) chip.mcu.gpio[pin].setInputValue(level);
  }

  set(pin, level) {
    if (this.levels.get(pin) === level) return;
    this.levels.set(pin, level);
    if (this.chip) {
      this.onChange?.(pin, level);
      this.chip.mcu.gpio[pin].setInputValue(level);
    }
  }
}

/** An A/B probe: moves at a steady speed until stopped. */
export class Probe {
  constructor({ clock, wires, a, b }) {
    Object.assign(this, { clock, wires, a, b, position: 0, edges: 0 });
    this.next = clock.createAlarm(() => this.#step());
    this.#show();
  }

  /** `edgesPerS` negative: the other way. */
  move(edgesPerS) {
    this.next.cancel();
    this.direction = Math.sign(edgesPerS);
    this.intervalNs = edgesPerS ? 1e9 / Math.abs(edgesPerS) : 0;
    if (edgesPerS) this.next.schedule(this.intervalNs);
  }

  /** One edge up or down. */
  step(by) {
    this.position += by;
    this.edges += 1;
    this.#show();
  }

  #step() {
    this.step(this.direction);
    this.next.schedule(this.intervalNs);
  }

  #show() {
    const phase = ((this.position % 4) + 4) % 4;
    this.wires.set(this.a, phase === 1 || phase === 2);
    this.wires.set(this.b, phase >= 2);
  }
}

/** A once-per-turn mark. */
export class Mark {
  constructor({ clock, wires, pin }) {
    Object.assign(this, { clock, wires, pin });
    this.passes = [];
    wires.set(pin, false);
  }

  /** Passes at a time, high for a while, each edge bouncing for some microseconds. */
  pass(atNs, highNs = 4e6, bounces = []) {
    this.passes.push(atNs);
    for (const [edgeNs, level] of [[atNs, true], [atNs + highNs, false]]) {
      this.change(edgeNs, level);
      let now = level;
      for (const afterNs of bounces) this.change(edgeNs + afterNs, (now = !now));
    }
  }

  /** Comes or goes at a time. */
  change(atNs, level) {
    this.clock.createAlarm(() => this.set(level)).schedule(atNs - this.clock.nanos);
  }

  /** Is in front of its sensor from now on, or is not. */
  set(there) {
    this.wires.set(this.pin, there);
  }
}

/** A push button to ground: the line is high until it is pressed. */
export class Button {
  constructor({ clock, wires, pin }) {
    Object.assign(this, { clock, wires, pin });
    this.set(false);
  }

  /** Its contact is closed from now on, or open. */
  set(closed) {
    this.wires.set(this.pin, !closed);
  }

  /** Pressed at a time and held for a while; the contact changes again at each of `bounces` after either edge. */
  press(atNs, heldNs = 100e6, bounces = []) {
    for (const [edgeNs, closed] of [[atNs, true], [atNs + heldNs, false]]) {
      this.#change(edgeNs, closed);
      let now = closed;
      for (const afterNs of bounces) this.#change(edgeNs + afterNs, (now = !now));
    }
  }

  #change(atNs, closed) {
    this.clock.createAlarm(() => this.set(closed)).schedule(atNs - this.clock.nanos);
  }
}

const BIT_NS = 400e3;
const DIGIT_PAUSE_NS = 600e3;

/** A digital indicator: sends what it shows, 13 digits of four bits, when its request line is held. */
export class Indicator {
  constructor({ clock, wires, clockPin, dataPin }) {
    Object.assign(this, { clock, wires, clockPin, dataPin, sent: 0, mute: false });
    this.shown = { negative: false, digits: [0, 0, 0, 0, 0, 0], decimals: 3, inch: false };
    this.show = () => this.shown;
    wires.set(clockPin, true);
    wires.set(dataPin, true);
  }

  attach(chip, requestPin) {
    chip.mcu.gpio[requestPin].addListener((state) => {
      if (state === 1 && !this.mute && !this.busy) this.#send();
    });
  }

  #send() {
    const { negative, digits, decimals, inch } = this.show();
    const all = [15, 15, 15, 15, negative ? 8 : 0, ...digits, decimals, inch ? 1 : 0];
    this.busy = true;
    let atNs = 5e6;
    all.forEach((digit) => {
      for (let bit = 0; bit < 4; bit++) {
        const level = ((digit >> bit) & 1) === 1;
        this.#after(atNs, () => this.wires.set(this.dataPin, level));
        this.#after(atNs + BIT_NS / 4, () => this.wires.set(this.clockPin, false));
        this.#after(atNs + BIT_NS / 2, () => this.wires.set(this.clockPin, true));
        atNs += BIT_NS;
      }
      atNs += DIGIT_PAUSE_NS;
    });
    this.#after(atNs, () => {
      this.busy = false;
      this.sent += 1;
    });
  }

  #after(ns, act) {
    this.clock.createAlarm(act).schedule(ns);
  }
}
