// Edges of the light's pin come in; which signal it shows and since when comes out, once somebody who counts its blinks
// can tell.

import { MS } from './bench.mjs';

const BY_BLINKS = [null, 'Wait', 'Hold', 'Unclamp', 'Turn', 'Fault'];
const BLINK_NS = 120 * MS;
const BETWEEN_NS = 180 * MS;
const LONG_NS = 1200 * MS;
/** How far a blink may be off its length: the image sets its light when it comes to it. */
const OFF_NS = 30 * MS;
/** Dark for longer than between two blinks: the group has ended. */
const COUNTED_NS = BETWEEN_NS + 100 * MS;
/** A light on for so long is the one long light. */
const SURELY_LONG_NS = 500 * MS;
/** Dark for longer than between two groups. */
const DARK_NS = 1200 * MS;

const lasted = (ns, of) => Math.abs(ns - of) <= OFF_NS;

export class SeenLight {
  /** `edges` as a bench keeps them; they grow while it runs. */
  constructor(edges) {
    Object.assign(this, { edges, read: 0, on: false, changedNs: 0, blinks: 0, groupNs: 0, seen: null });
  }

  /** The signal told last, by now; null before any. */
  look(nowNs) {
    while (this.read < this.edges.length) {
      const { atNs, on } = this.edges[this.read++];
      if (on !== this.on) {
        this.#tell(atNs);
        this.#change(atNs, on);
      }
    }
    this.#tell(nowNs);
    return this.seen;
  }

  #change(atNs, on) {
    const forNs = atNs - this.changedNs;
    Object.assign(this, { on, changedNs: atNs });
    if (on) {
      if (this.blinks && lasted(forNs, BETWEEN_NS)) return;
      [this.blinks, this.groupNs] = [0, atNs];
    } else if (lasted(forNs, BLINK_NS)) this.blinks += 1;
    else if (lasted(forNs, LONG_NS)) this.blinks = 0;
    // Another signal began while the light was on: with its first blink.
    else [this.blinks, this.groupNs] = [1, atNs - BLINK_NS];
  }

  #tell(nowNs) {
    const forNs = nowNs - this.changedNs;
    if (this.on && forNs >= SURELY_LONG_NS) this.#see('Taken', this.changedNs);
    if (!this.on && forNs >= DARK_NS) this.#see('Off', this.changedNs);
    else if (!this.on && BY_BLINKS[this.blinks] && forNs >= COUNTED_NS) this.#see(BY_BLINKS[this.blinks], this.groupNs);
  }

  /** The same signal goes on: it is seen since its first group. */
  #see(signal, sinceNs) {
    if (this.seen?.signal !== signal) this.seen = { signal, sinceNs };
  }
}
