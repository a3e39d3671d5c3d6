// An image comes in; a whole bench comes out: the chip with converter, probe, mark, indicator, button and light around it and
// a USB host in front, all in one virtual time, so that a script gives the same bytes at the same nanosecond each time.

import { RP2040 } from 'rp2040js';
import { Bridge, BridgeAdc } from './bridge_adc.mjs';
import { CAUSE, Chip } from './chip.mjs';
import { readElf } from './elf.mjs';
import { Flash } from './flash.mjs';
import { Button, Indicator, Mark, Probe, Wires } from './signals.mjs';
import { UsbHost } from './usb_host.mjs';
import { decode, encode } from './wire.mjs';

export const PIN = { buzzer: 5, secondLight: 6, button: 7, indicatorClock: 8, indicatorData: 9, dataReady: 10, a: 11, b: 12, mark: 13, request: 14, shunt: 15, select: 17, light: 25 };
/** The image as it is built, that of a gauge with a digital indicator and no probe, and that of one without a load cell. */
export const INDICATOR_IMAGE = new URL('../../firmware/boards/target/indicator/holdtrue-rp2040', import.meta.url).pathname;
export const RUNOUT_IMAGE = new URL('../../firmware/boards/target/runout/holdtrue-rp2040', import.meta.url).pathname;
export const IMAGE = new URL('../../firmware/boards/target/thumbv6m-none-eabi/release/holdtrue-rp2040', import.meta.url).pathname;

/** Every image that is built. */
export const IMAGES = [
  { name: 'probe and indicator', path: IMAGE },
  { name: 'indicator and no probe', path: INDICATOR_IMAGE },
  { name: 'no load cell', path: RUNOUT_IMAGE },
];

const PIN_INTERRUPT = 16 + 13;

export const S = 1e9;
export const MS = 1e6;
export const US = 1e3;

export class Bench {
  constructor({ image = IMAGE, flash = new Flash(), bridge = new Bridge(), timerStartUs = 0 } = {}) {
    this.elf = readElf(image);
    this.flash = flash;
    this.clock = new RP2040().clock;
    this.wires = new Wires();
    const { clock, wires } = this;
    this.adc = new BridgeAdc({ clock, wires, dataReady: PIN.dataReady, bridge });
    this.probe = new Probe({ clock, wires, a: PIN.a, b: PIN.b });
    this.mark = new Mark({ clock, wires, pin: PIN.mark });
    this.button = new Button({ clock, wires, pin: PIN.button });
    this.indicator = new Indicator({ clock, wires, clockPin: PIN.indicatorClock, dataPin: PIN.indicatorData });
    this.usb = new UsbHost(clock);
    this.usb.onBytes = (bytes) => this.chunks.push({ atNs: clock.nanos, bytes });
    this.chunks = [];
    this.requests = 0;
    this.light = [];
    this.secondLight = [];
    this.buzzer = [];
    this.shunt = [];
    this.flash.load(this.elf);
    this.powerUp({ timerStartUs });
  }

  get nowNs() {
    return this.clock.nanos;
  }

  /** Starts a chip on the same flash, as power coming or a reset does. */
  powerUp({ cause = CAUSE.powerOn, timerStartUs = 0 } = {}) {
    this.chip?.stop();
    // A reset leaves memory as it is; of what the start does not clear the program reads what it wrote before.
    const kept = cause === CAUSE.powerOn ? null : this.chip?.uninitialised(this.elf).slice();
    const scratch = cause.watchdogReason ? this.chip?.scratch.slice() : null;
    this.flash.readable = true;
    this.chip = new Chip({ flash: this.flash, clock: this.clock, cause, timerStartUs });
    if (kept) this.chip.uninitialised(this.elf).set(kept);
    if (scratch) this.chip.scratch.set(scratch);
    this.chip.onWatchdog = () => {
      this.watchdogBites = (this.watchdogBites ?? 0) + 1;
      this.bitten = true;
      this.chip.stop();
    };
    this.wires.attach(this.chip);
    this.adc.attach(this.chip, PIN.select);
    this.indicator.attach(this.chip, PIN.request);
    this.#watch(PIN.light, this.light);
    this.#watch(PIN.secondLight, this.secondLight);
    this.#watch(PIN.buzzer, this.buzzer);
    this.#watchDue();
    this.#watch(PIN.shunt, this.shunt);
    this.usb.attach(this.chip);
  }

  /** Runs for some virtual nanoseconds; a watchdog bite restarts the chip. */
  run(ns) {
    const end = this.clock.nanos + ns;
    while (this.clock.nanos < end) {
      this.chip.runUntil(end);
      if (!this.bitten) break;
      this.bitten = false;
      this.powerUp({ cause: CAUSE.watchdog });
    }
    if (this.chip.halted) throw new Error(`the chip stopped at ${this.clock.nanos / S} s: ${this.chip.halted}`);
  }

  /** Runs until the host's port is configured. */
  connect(limitNs = 2 * S) {
    for (let waited = 0; !this.usb.configured; waited += MS) {
      if (waited > limitNs) throw new Error('USB was not configured in time');
      this.run(MS);
    }
  }

  /** Sends a request; gives its number. */
  request(command) {
    const id = ++this.requests;
    this.usb.send(encode([{ Request: { id, command } }])[0]);
    return id;
  }

  /** Sends a request and runs until its answer is there; gives the outcome. */
  ask(command, limitNs = 5 * S) {
    return this.answerTo(this.request(command), limitNs);
  }

  /** Runs until a request is answered; gives the outcome. */
  answerTo(id, limitNs = 5 * S) {
    for (let waited = 0; waited < limitNs; waited += 5 * MS) {
      this.run(5 * MS);
      const answer = this.heard().answers.get(id);
      if (answer) return answer;
    }
    throw new Error(`no answer to request ${id} within ${limitNs / S} s`);
  }

  /** Starts streaming; everything heard before is forgotten. */
  start(rate_hz, channels) {
    const all = { force: false, displacement: false, mark: false, indicator: false, ...channels };
    const outcome = this.ask({ Start: { rate_hz, channels: all } });
    if (!outcome.Ok) throw new Error(`start refused: ${JSON.stringify(outcome)}`);
    return outcome.Ok.Started;
  }

  /** Streams for some nanoseconds, keeping the gauge awake as a host does. */
  stream(ns) {
    for (let left = ns; left > 0; left -= 2 * S) {
      this.request('KeepAlive');
      this.run(Math.min(left, 2 * S));
    }
  }

  /** Everything heard since the last `forget`, decoded by the host's own decoder. */
  heard() {
    if (this.decoded?.chunks !== this.chunks.length) {
      const bytes = Buffer.concat(this.chunks.map((chunk) => chunk.bytes));
      this.decoded = { chunks: this.chunks.length, ...decode(bytes) };
      this.#stampArrivals(this.decoded.frames);
    }
    return this.decoded;
  }

  forget() {
    this.chunks = [];
    this.decoded = null;
  }

  /** Gives what was heard in whole frames and forgets it; a frame still under way is kept for the next time. */
  drain() {
    const bytes = Buffer.concat(this.chunks.map((chunk) => chunk.bytes));
    const whole = bytes.lastIndexOf(0) + 1;
    this.forget();
    this.chunks = [{ atNs: this.nowNs, bytes: bytes.subarray(whole) }];
    return decode(bytes.subarray(0, whole));
  }

  /** From now on, how late each edge of some inputs is stamped, in nanoseconds. */
  watchStamps(pins) {
    const { chip, clock } = this;
    const [late, edges] = [[], new Map()];
    let stampNs = 0;
    chip.onStamp = (exception) => {
      if (exception === PIN_INTERRUPT) stampNs = clock.nanos;
    };
    this.wires.onChange = (pin) => edges.set(pin, clock.nanos);
    for (const pin of pins) {
      const gpio = chip.mcu.gpio[pin];
      const clear = gpio.updateIRQValue.bind(gpio);
      gpio.updateIRQValue = (flags) => {
        if (flags && edges.has(pin)) late.push(stampNs - edges.get(pin));
        if (flags) edges.delete(pin);
        clear(flags);
      };
    }
    return late;
  }

  /** The image must not use what the emulator does not model, but for what the USB driver clears at its start. */
  refuseComplaints() {
    const known = /^USB: Unimplemented peripheral (write to 0x[0-9a-f]+: 0x0|read from 0x74)$/;
    const unknown = [...this.chip.complaints.keys()].filter((line) => !known.test(line));
    if (unknown.length) throw new Error(`the emulator does not model: ${unknown.join('; ')}`);
  }

  #stampArrivals(frames) {
    let [at, length] = [-1, 0];
    for (const frame of frames) {
      while (length < frame.end) length += this.chunks[++at].bytes.length;
      frame.atNs = this.chunks[at].atNs;
    }
  }

  /** Without a converter a timer of the chip says when a sample is due: its period is the rate it is set to. */
  #watchDue() {
    let rateHz = 0;
    this.chip.onDue = (periodUs) => {
      const nowHz = Math.round(1e6 / periodUs);
      if (nowHz !== rateHz) this.adc.onStart?.({ rateHz: nowHz, readsBridge: true });
      rateHz = nowHz;
    };
  }

  #watch(pin, list) {
    this.chip.mcu.gpio[pin].addListener((state) => list.push({ atNs: this.clock.nanos, on: state === 1 }));
  }
}
