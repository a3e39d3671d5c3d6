// Erase and program orders come in; what a 2 MiB serial NOR flash holds afterwards comes out, also when power fails
// in the middle.
//
// Times and rules are those of common 16 Mbit parts (typical 45 ms a 4 KiB sector, 0.4 ms a 256-byte page): erased
// bits are 1, programming only clears bits, nothing can be read meanwhile, and below 2.7 V nothing may be written (W25Q16JV data
// sheet, operating ranges, from memory).

export const FLASH_BASE = 0x10000000;
const SIZE = 2 * 1024 * 1024;
const SECTOR = 4096;
const PAGE = 256;
const ERASE_NS = 45e6;
const PROGRAM_NS = 0.4e6;
const LEAST_VOLTS = 2.7;

const SSI = { enable: 0x08, data: 0x60, spiControl: 0xf4 };
const COMMAND = { uniqueId: 0x4b, jedecId: 0x9f };
const UNIQUE_ID_DUMMIES = 4;

export class PowerCut extends Error {}

/** The 3.3 V that chip and flash are on, and how warm the chip is. */
export class Rail {
  constructor() {
    Object.assign(this, { volts: 3.3, celsius: 27 });
  }

  /** What the chip's converter finds of the diode in it (RP2040 data sheet, 4.9.5: 0.706 V at 27 °C, 1.721 mV less a degree). */
  get diode() {
    return Math.round(((0.706 - 0.001721 * (this.celsius - 27)) / this.volts) * 4096);
  }
}

export class Flash {
  constructor(uniqueId = [0xde, 0x61, 0x48, 0x02, 0x17, 0x5c, 0x20, 0x2b]) {
    this.bytes = new Uint8Array(SIZE).fill(0xff);
    this.uniqueId = uniqueId;
    this.readable = true;
    this.rail = new Rail();
    this.operations = [];
    this.onFinish = null; // told of each operation that came to its end
    this.cut = null; // { operation, fraction }: power fails in that operation, so far into it
  }

  load(elf) {
    for (const { address, data } of elf.parts) {
      if (address >= FLASH_BASE && address < FLASH_BASE + SIZE) this.bytes.set(data, address - FLASH_BASE);
    }
  }

  /** Erases; gives the nanoseconds it takes. */
  erase(at, count) {
    if (at % SECTOR || count % SECTOR) throw new Error(`erase of ${count} bytes at ${at}: not whole sectors`);
    for (let sector = at; sector < at + count; sector += SECTOR) {
      const done = this.#begin('erase', sector);
      // Cells drift up one by one: at any moment some bits of every byte have arrived.
      for (let i = sector; i < sector + SECTOR; i++) this.bytes[i] |= done === 1 ? 0xff : scattered(i, done);
      this.#finish(done);
    }
    return (count / SECTOR) * ERASE_NS;
  }

  /** Programs; gives the nanoseconds it takes. */
  program(at, data) {
    if (at % PAGE || data.length % PAGE) throw new Error(`program of ${data.length} bytes at ${at}: not whole pages`);
    for (let page = 0; page < data.length; page += PAGE) {
      const done = this.#begin('program', at + page);
      const whole = Math.floor(done * PAGE);
      for (let i = 0; i < whole; i++) this.bytes[at + page + i] &= data[page + i];
      if (whole < PAGE) this.bytes[at + page + whole] &= data[page + whole] | scattered(whole, 0.5);
      this.#finish(done);
    }
    return (data.length / PAGE) * PROGRAM_NS;
  }

  /** Answers the two identity commands, and notices when the mapping into memory is set up again. */
  connect(ssi) {
    const [read, write] = [ssi.readUint32.bind(ssi), ssi.writeUint32.bind(ssi)];
    let [sent, answered, mapping] = [[], 0, false];
    ssi.writeUint32 = (offset, value) => {
      write(offset, value);
      if (this.readable) return;
      if (offset === SSI.data) sent.push(value & 0xff);
      if (offset === SSI.spiControl) mapping = true;
      if (offset === SSI.enable && value === 0) [sent, answered] = [[], 0];
      if (offset === SSI.enable && value === 1 && mapping) [this.readable, mapping] = [true, false];
    };
    ssi.readUint32 = (offset) =>
      offset === SSI.data && !this.readable && sent.length && !mapping ? this.#answer(sent[0], answered++) : read(offset);
  }

  #answer(command, place) {
    if (command === COMMAND.uniqueId) return this.uniqueId[place - UNIQUE_ID_DUMMIES] ?? 0;
    if (command === COMMAND.jedecId) return [0xef, 0x70, 0x15][place] ?? 0;
    return 0;
  }

  #begin(kind, at) {
    if (this.rail.volts < LEAST_VOLTS) throw new Error(`${kind} at ${this.rail.volts} V: the flash is made for ${LEAST_VOLTS} V and more`);
    this.operations.push({ kind, at });
    return this.cut?.operation === this.operations.length - 1 ? this.cut.fraction : 1;
  }

  #finish(done) {
    if (done < 1) throw new PowerCut();
    this.onFinish?.(this.operations.at(-1));
  }
}

/** A byte with about this share of its bits set, the same every time. */
function scattered(seed, share) {
  let byte = 0;
  for (let bit = 0; bit < 8; bit++) {
    const hash = Math.imul(seed * 8 + bit + 1, 2654435761) >>> 0;
    if (hash / 2 ** 32 < share) byte |= 1 << bit;
  }
  return byte;
}
