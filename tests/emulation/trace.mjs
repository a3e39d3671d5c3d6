// What a simulated gauge felt, plane by plane, comes in; probe, mark, indicator and button of a bench follow it, a plane each
// time the image sets its converter to read one.

/** Samples per second the program reads a plane at. */
const PLANE_HZ = 330;
const NM_PER_COUNT = 100;
/** Edges between two samples keep off the moments of the samples themselves by this part of the time between. */
const KEPT_OFF = 0.1;

export class Trace {
  /** `planes` as the program `signal` writes them. */
  constructor(bench, planes) {
    Object.assign(this, { bench, planes, begun: 0 });
    this.next = bench.clock.createAlarm(() => this.#step());
    bench.adc.oscillatorError = 1e6 / (PLANE_HZ * planes[0].period_us) - 1;
    bench.adc.onStart = ({ rateHz, readsBridge }) => {
      if (rateHz === PLANE_HZ && readsBridge && this.begun < planes.length) this.#begin(planes[this.begun++]);
    };
    bench.indicator.show = () => this.#display();
  }

  #begin(plane) {
    this.counts = plane.counts;
    this.periodNs = plane.period_us * 1e3;
    // Set down on the surface: where the probe stood in the air tells nothing.
    this.liftedBy = this.bench.probe.position - plane.counts[0];
    this.firstNs = this.bench.nowNs + this.periodNs;
    for (const { after_us, rising } of plane.marks) this.bench.mark.change(this.firstNs + after_us * 1e3, rising);
    for (const afterUs of plane.presses) this.bench.button.press(this.firstNs + afterUs * 1e3);
    this.sample = 0;
    this.#plan();
  }

  /** The edges that lead from one sample to the next, evenly between them. */
  #plan() {
    this.sample += 1;
    if (this.sample >= this.counts.length) return;
    const by = this.counts[this.sample] - this.counts[this.sample - 1];
    const fromNs = this.firstNs + (this.sample - 1 + KEPT_OFF) * this.periodNs;
    const stepNs = ((1 - 2 * KEPT_OFF) * this.periodNs) / Math.max(1, Math.abs(by));
    this.edges = Array.from({ length: Math.abs(by) }, (_, i) => ({ atNs: fromNs + i * stepNs, by: Math.sign(by) }));
    this.edges.push({ atNs: fromNs + 0.8 * this.periodNs, by: 0 });
    this.#wait();
  }

  #wait() {
    this.next.schedule(this.edges[0].atNs - this.bench.nowNs);
  }

  #step() {
    const { by } = this.edges.shift();
    if (by) this.bench.probe.step(by);
    if (this.edges.length) this.#wait();
    else this.#plan();
  }

  /** The display of a digital indicator on the same plunger, mm with three places. */
  #display() {
    const um = Math.round(((this.bench.probe.position - this.liftedBy) * NM_PER_COUNT) / 1e3);
    const digits = [...String(Math.abs(um)).padStart(6, '0')].map(Number);
    return { negative: um < 0, digits, decimals: 3, inch: false };
  }
}
