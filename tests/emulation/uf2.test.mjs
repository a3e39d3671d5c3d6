// The file for the chip's USB boot mode holds the image's flash, all of it, and nothing of the records.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { test } from 'node:test';
import { IMAGE } from './bench.mjs';
import { readElf } from './elf.mjs';
import { FLASH_BASE, Flash } from './flash.mjs';
import { run } from './wire.mjs';

const RECORDS = 2 * 1024 * 1024 - 40 * 1024;

test('a UF2 file writes what the image is', () => {
  const file = path.join(os.tmpdir(), `bench-${process.pid}.uf2`);
  run('uf2', [IMAGE, file]);
  const bytes = fs.readFileSync(file);
  fs.rmSync(file);
  const expected = new Flash();
  expected.load(readElf(IMAGE));
  const written = new Flash();
  const blocks = bytes.length / 512;
  assert.ok(Number.isInteger(blocks) && blocks > 100);
  for (let nr = 0; nr < blocks; nr++) {
    const block = bytes.subarray(nr * 512, nr * 512 + 512);
    const word = (at) => block.readUInt32LE(at);
    assert.deepEqual([word(0), word(4), word(8), word(28), word(508)], [0x0a324655, 0x9e5d5157, 0x2000, 0xe48bff56, 0x0ab16f30]);
    assert.deepEqual([word(16), word(20), word(24)], [256, nr, blocks]);
    const at = word(12) - FLASH_BASE;
    assert.ok(at % 256 === 0 && at + 256 <= RECORDS);
    written.bytes.set(block.subarray(32, 288), at);
  }
  assert.deepEqual(Buffer.from(written.bytes), Buffer.from(expected.bytes));
});
