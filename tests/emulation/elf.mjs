// An image file comes in; its loadable parts, its symbols and the sizes of its sections come out.

import fs from 'node:fs';

const LOADABLE = 1;
const ALLOCATED = 2;
const SYMBOLS = 2;
const FUNCTION = 2;
const NO_BITS = 8;

/** Reads a 32-bit little-endian ELF file. */
export function readElf(path) {
  const bytes = fs.readFileSync(path);
  if (bytes.readUInt32BE(0) !== 0x7f454c46) throw new Error(`${path} is no ELF file`);
  const sections = readSections(bytes);
  return { path, bytes, parts: readParts(bytes), sections, symbols: readSymbols(bytes, sections), functions: readFunctions(bytes, sections) };
}

function readParts(bytes) {
  const [at, size, count] = [bytes.readUInt32LE(28), bytes.readUInt16LE(42), bytes.readUInt16LE(44)];
  return Array.from({ length: count }, (_, i) => at + i * size)
    .filter((head) => bytes.readUInt32LE(head) === LOADABLE && bytes.readUInt32LE(head + 16) > 0)
    .map((head) => {
      const offset = bytes.readUInt32LE(head + 4);
      return { address: bytes.readUInt32LE(head + 12), data: bytes.subarray(offset, offset + bytes.readUInt32LE(head + 16)) };
    });
}

function readSections(bytes) {
  const [at, size, count, names] = [bytes.readUInt32LE(32), bytes.readUInt16LE(46), bytes.readUInt16LE(48), bytes.readUInt16LE(50)];
  const heads = Array.from({ length: count }, (_, i) => at + i * size).map((head) => ({
    nameAt: bytes.readUInt32LE(head), type: bytes.readUInt32LE(head + 4), flags: bytes.readUInt32LE(head + 8),
    address: bytes.readUInt32LE(head + 12), offset: bytes.readUInt32LE(head + 16), size: bytes.readUInt32LE(head + 20),
    link: bytes.readUInt32LE(head + 24),
  }));
  for (const head of heads) head.name = text(bytes, heads[names].offset + head.nameAt);
  return heads;
}

function readSymbols(bytes, sections) {
  const symbols = new Map();
  for (const table of sections.filter((section) => section.type === SYMBOLS)) {
    for (let at = table.offset; at < table.offset + table.size; at += 16) {
      symbols.set(text(bytes, sections[table.link].offset + bytes.readUInt32LE(at)), bytes.readUInt32LE(at + 4));
    }
  }
  return symbols;
}

/** Code by its symbols: name, address, size. */
function readFunctions(bytes, sections) {
  const functions = [];
  for (const table of sections.filter((section) => section.type === SYMBOLS)) {
    for (let at = table.offset; at < table.offset + table.size; at += 16) {
      if ((bytes[at + 12] & 15) !== FUNCTION) continue;
      const name = text(bytes, sections[table.link].offset + bytes.readUInt32LE(at));
      functions.push({ name, address: bytes.readUInt32LE(at + 4) & ~1, size: bytes.readUInt32LE(at + 8) });
    }
  }
  return functions;
}

function text(bytes, at) {
  return bytes.toString('latin1', at, bytes.indexOf(0, at));
}

/** The bytes of the image from an address on, wherever they are loaded from. */
export function bytesAt(elf, address, count) {
  const section = elf.sections.find((one) => one.flags & ALLOCATED && one.type !== NO_BITS && address >= one.address && address + count <= one.address + one.size);
  if (!section) throw new Error(`the image has no bytes at ${address.toString(16)}`);
  return elf.bytes.subarray(section.offset + address - section.address, section.offset + address - section.address + count);
}

/** The function of this name and all it calls, directly or through what it calls, with the addresses each reads in its code. */
export function reached(elf, name) {
  const byAddress = new Map(elf.functions.map((one) => [one.address, one]));
  const [found, waiting] = [new Map(), [elf.functions.find((one) => one.name === name)]];
  while (waiting.length) {
    const one = waiting.pop();
    if (found.has(one.address)) continue;
    const code = bytesAt(elf, one.address, one.size);
    const words = Array.from({ length: one.size >> 2 }, (_, i) => ((one.address + 3) & ~3) - one.address + 4 * i);
    found.set(one.address, { ...one, words: words.filter((at) => at + 4 <= one.size).map((at) => code.readUInt32LE(at)) });
    for (let at = 0; at + 4 <= one.size; at += 2) {
      const target = calledBy(code.readUInt16LE(at), code.readUInt16LE(at + 2), one.address + at);
      if (byAddress.has(target)) waiting.push(byAddress.get(target));
    }
  }
  return [...found.values()];
}

/** Where a BL goes. */
function calledBy(first, second, at) {
  if (first >> 11 !== 0b11110 || (second & 0xd000) !== 0xd000) return null;
  const sign = (first >> 10) & 1;
  const [high, low] = [(first & 0x3ff) << 12, (second & 0x7ff) << 1];
  const top = [13, 11].map((bit, i) => (((second >> bit) & 1 ^ sign ^ 1) << (23 - i)));
  return at + 4 + ((sign ? -(1 << 24) : 0) + (top[0] | top[1] | high | low));
}

/** Bytes the image takes in flash, and of static RAM. */
export function sizes(elf) {
  const allocated = elf.sections.filter((section) => section.flags & ALLOCATED && section.size > 0);
  const inRam = (section) => section.address >= 0x20000000;
  const sum = (list) => list.reduce((total, section) => total + section.size, 0);
  return {
    flash: sum(allocated.filter((section) => section.type !== NO_BITS)),
    ram: sum(allocated.filter(inRam)),
  };
}
