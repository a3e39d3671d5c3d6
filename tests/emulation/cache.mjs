// Addresses the core reads in the flash come in; the cycles it waits for them come out.
//
// A line that is not in the cache is read over the flash's four wires, and the core stands still meanwhile: no interrupt is
// taken, whatever its priority. Nothing here is measured on a chip; each figure says where it is from, and where that leaves
// a choice the longer wait is taken.

/** RP2040 data sheet, 2.6.3.2: "16 kB total size / 8 bytes per line / 2 ways per set". */
const SIZE = 16 * 1024;
const LINE = 8;
const WAYS = 2;
const SETS = SIZE / LINE / WAYS;

/**
 * What the second stage of this image sets the bus to (`rp2040-boot2` 0.3, W25Q080), in clocks of the bus: address and mode
 * on four wires, then clocks of waiting, then a frame of 32 bits. `stamps.test.mjs` holds divider and frame to the image's bytes.
 */
export const BUS = { divider: 2, address: 8, waiting: 4, frame: 8 };
/** A frame is one word (NDF = 0). That a line takes two reads, each with its address, and not one, is assumed: the longer. */
const READS = LINE / 4;
/** Chip select and the way through the bus's own clock, core cycles a read. From memory, on the long side. */
const AROUND = 4;

/** Core cycles of a miss. */
export const MISS = READS * ((BUS.address + BUS.waiting + BUS.frame) * BUS.divider + AROUND);

export class FlashCache {
  constructor() {
    this.lines = new Int32Array(SETS * WAYS);
    this.newest = new Uint8Array(SETS);
    this.misses = 0;
    this.flush();
  }

  /** As the ROM's routine does after a write, and a reset. */
  flush() {
    this.lines.fill(-1);
    this.last = -1;
  }

  /** Cycles the core waits. Which way a new line takes is in no document: here the one not used last. */
  read(address) {
    const line = address >>> 3;
    if (line === this.last) return 0;
    this.last = line;
    const set = line % SETS;
    const at = set * WAYS;
    if (this.lines[at] === line) {
      this.newest[set] = 0;
      return 0;
    }
    if (this.lines[at + 1] === line) {
      this.newest[set] = 1;
      return 0;
    }
    this.newest[set] ^= 1;
    this.lines[at + this.newest[set]] = line;
    this.misses += 1;
    return MISS;
  }
}
