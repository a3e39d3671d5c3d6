// What the light shows goes to the simulated operator, moment by moment; probe, mark, indicator and button of a bench follow
// what he does, a plane each time the image sets its converter to read one.

import { SeenLight } from './light.mjs';
import { converse } from './wire.mjs';

/** Samples per second the program reads a plane at. */
const PLANE_HZ = 330;
const NM_PER_COUNT = 100;
/** Edges between two samples keep off the moments of the samples themselves by this part of the time between. */
const KEPT_OFF = 0.1;

export class Hand {
  /** Planes in the words of the program `hand`, which is the operator. */
  constructor(bench, words) {
    Object.assign(this, { bench, begun: 0, light: new SeenLight(bench.light) });
    const { ask, hello, end } = converse('hand', words);
    Object.assign(this, { ask, end, calibration: hello.calibration });
    this.periodNs = 1e9 / (PLANE_HZ * (1 + hello.clock_error));
    this.next = bench.clock.createAlarm(() => this.#step());
    bench.adc.oscillatorError = hello.clock_error;
    bench.adc.onStart = ({ rateHz, readsBridge }) => {
      this.#leave();
      if (rateHz === PLANE_HZ && readsBridge) this.#begin();
    };
    bench.indicator.show = () => this.#display();
  }

  #begin() {
    this.begun += 1;
    this.beganNs = this.bench.nowNs;
    this.passed = 0;
    const { count, changes } = this.ask('Begin');
    for (const { line, on } of changes) this.bench[line].set(on);
    this.count = count;
    // Set down on the surface: where the probe stood in the air tells nothing.
    this.liftedBy = this.bench.probe.position - this.count;
    this.#plan();
  }

  /** The plane has ended: a finger still on the button is taken off. */
  #leave() {
    this.next.cancel();
    this.bench.button.set(false);
  }

  /** What happens until the next sample: the edges that lead there, evenly between, and what else changes. */
  #plan() {
    const fromNs = this.beganNs + this.passed * this.periodNs;
    this.passed += 1;
    const until_ns = Math.round(this.passed * this.periodNs);
    const { count, changes } = this.ask({ Pass: { until_ns, light: this.#shown() } });
    const by = count - this.count;
    this.count = count;
    const stepNs = ((1 - 2 * KEPT_OFF) * this.periodNs) / Math.max(1, Math.abs(by));
    const edges = Array.from({ length: Math.abs(by) }, (_, i) => ({
      atNs: fromNs + KEPT_OFF * this.periodNs + i * stepNs,
      act: () => this.bench.probe.step(Math.sign(by)),
    }));
    const others = changes.map(({ at_ns, line, on }) => ({
      atNs: this.beganNs + at_ns,
      act: () => this.bench[line].set(on),
    }));
    const end = { atNs: fromNs + this.periodNs, act: () => this.#plan() };
    this.due = [...edges, ...others].sort((a, b) => a.atNs - b.atNs).concat(end);
    this.#wait();
  }

  #shown() {
    const seen = this.light.look(this.bench.nowNs);
    return seen && { signal: seen.signal, since_s: (seen.sinceNs - this.beganNs) / 1e9 };
  }

  #wait() {
    this.next.schedule(this.due[0].atNs - this.bench.nowNs);
  }

  #step() {
    const { act } = this.due.shift();
    if (this.due.length) this.#wait();
    act();
  }

  /** The display of a digital indicator on the same plunger, mm with three places. */
  #display() {
    const um = Math.round(((this.bench.probe.position - this.liftedBy) * NM_PER_COUNT) / 1e3);
    const digits = [...String(Math.abs(um)).padStart(6, '0')].map(Number);
    return { negative: um < 0, digits, decimals: 3, inch: false };
  }
}
