// An image file comes in; its loadable parts, its symbols and the sizes of its sections come out.

import fs from 'node:fs';

const LOADABLE = 1;
const ALLOCATED = 2;
const SYMBOLS = 2;
const NO_BITS = 8;

/** Reads a 32-bit little-endian ELF file. */
export function readElf(path) {
  const bytes = fs.readFileSync(path);
  if (bytes.readUInt32BE(0) !== 0x7f454c46) throw new Error(`${path} is no ELF file`);
  const sections = readSections(bytes);
  return { path, bytes, parts: readParts(bytes), sections, symbols: readSymbols(bytes, sections) };
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

function text(bytes, at) {
  return bytes.toString('latin1', at, bytes.indexOf(0, at));
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
