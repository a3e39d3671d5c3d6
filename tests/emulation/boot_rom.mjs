// Calls into the boot ROM come in; what its routines do to memory and flash, and how long that takes, come out.
//
// The package brings no ROM. Layout and function codes are those of the RP2040 data sheet, section 2.8.3: three
// half-words point to a table and a lookup routine, and every routine here is entered at an address of its own.

import { FLASH_BASE, PowerCut } from './flash.mjs';

const LOOKUP = 0x200;
const FUNCTIONS = 0x100;
const FIRST = 0x1000;
const SPACING = 0x10;
const NS_PER_US = 1e3;

/** Each takes the chip and its registers and gives the cycles it takes; flash routines let time pass themselves. */
const ROUTINES = {
  MC: (chip, [to, from, count]) => copy(chip, to, from, count),
  C4: (chip, [to, from, count]) => copy(chip, to, from, count),
  MS: (chip, [to, value, count]) => fill(chip, to, value, count),
  S4: (chip, [to, value, count]) => fill(chip, to, value, count),
  IF: () => 100,
  EX: (chip) => unmap(chip),
  RE: (chip, [at, count]) => writing(chip, () => chip.flash.erase(at, count)),
  RP: (chip, [at, from, count]) => writing(chip, () => chip.flash.program(at, fromRam(chip, from, count))),
  FC: (chip) => flush(chip),
  CX: (chip) => map(chip),
  UB: (chip) => leave(chip),
};
const CODES = Object.keys(ROUTINES);

/** Writes what an image reads to find the routines. */
export function romTable(view) {
  view.setUint16(0x14, FUNCTIONS, true);
  view.setUint16(0x16, FUNCTIONS + 2, true);
  view.setUint16(0x18, LOOKUP | 1, true);
}

/** The core is about to execute in the ROM; gives the cycles taken, or null if it went where nothing is. */
export function romCall(chip) {
  const pc = chip.core.PC & ~1;
  if (pc === LOOKUP) return lookUp(chip);
  const routine = ROUTINES[CODES[(pc - FIRST) / SPACING]];
  if (!routine) {
    chip.halt('entered the boot ROM where it has no routine');
    return null;
  }
  try {
    return routine(chip, chip.core.registers);
  } catch (error) {
    chip.halt(error instanceof PowerCut ? 'power cut' : error.message);
    return null;
  }
}

function lookUp({ core, halt }) {
  const code = String.fromCharCode(core.registers[1] & 0xff, (core.registers[1] >> 8) & 0xff);
  const place = CODES.indexOf(code);
  core.registers[0] = place < 0 || core.registers[0] !== FUNCTIONS ? 0 : (FIRST + place * SPACING) | 1;
  return 40;
}

function copy(chip, to, from, count) {
  for (let i = 0; i < count; i++) chip.mcu.writeUint8(to + i, chip.mcu.readUint8(from + i));
  return 10 + count;
}

function fill(chip, to, value, count) {
  for (let i = 0; i < count; i++) chip.mcu.writeUint8(to + i, value & 0xff);
  return 10 + count;
}

function unmap(chip) {
  chip.flash.readable = false;
  return 1000;
}

/** Writing zeroes over the tags takes a cycle a set (RP2040 data sheet, 2.6.3.2). */
function flush(chip) {
  chip.cache.flush();
  return 1024;
}

function map(chip) {
  chip.flash.readable = true;
  return 1000;
}

function writing(chip, operate) {
  if (chip.flash.readable) throw new Error('flash written while it is mapped into memory');
  chip.clock.tick(operate() + NS_PER_US);
  return 0;
}

/** The mode that takes files: nothing of the program runs any more. */
function leave(chip) {
  chip.bootMode = true;
  chip.halt('in the USB boot mode');
  return null;
}

function fromRam(chip, from, count) {
  if (from >= FLASH_BASE && from < 0x20000000) throw new Error('programmed from flash, which cannot be read meanwhile');
  return Uint8Array.from({ length: count }, (_, i) => chip.mcu.readUint8(from + i));
}
