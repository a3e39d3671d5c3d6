// A stamp is the time of its edge: never before it, and late by no more than is promised, while the core waits for its flash.
// What stamps runs from RAM, and so waits for nothing.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, IMAGES, MS, PIN, S, US } from './bench.mjs';
import { BUS, MISS } from './cache.mjs';
import { bytesAt, reached, readElf } from './elf.mjs';
import { tell } from './figures.mjs';
import { FLASH_BASE } from './flash.mjs';

const RAM = [0x20000000, 0x20042000];
const FLASH = [FLASH_BASE, FLASH_BASE + 0x4000000];
const isIn = ([from, to], address) => address >= from && address < to;
const EXCEPTION = { tick: 16, link: 21, pins: 29 };
/** Microseconds a stamp may be late; WIRE.md and README say so, too. */
const LATE_US = 4;

/** What of a function and all it calls lies in the flash, or names a place there. */
function inFlash(elf, name) {
  return reached(elf, name).flatMap((one) => [
    ...(isIn(RAM, one.address) && isIn(RAM, one.address + one.size) ? [] : [one.name]),
    ...one.words.filter((word) => isIn(FLASH, word)).map((word) => `${one.name} reads ${word.toString(16)}`),
  ]);
}

for (const image of IMAGES) {
  test(`the code that stamps, and all it calls, lies in RAM: ${image.name}`, () => {
    const elf = readElf(image.path);
    for (const name of ['IO_IRQ_BANK0', 'TIMER_IRQ_0']) assert.deepEqual(inFlash(elf, name), [], name);
    assert.notDeepEqual(inFlash(elf, 'USBCTRL_IRQ'), [], 'the main loop does not, and the same look says so');
  });
}

test('the wait for the flash is reckoned with what the image sets its bus to', () => {
  const boot2 = bytesAt(readElf(IMAGES[0].path), FLASH_BASE, 256);
  const halves = Array.from({ length: 128 }, (_, i) => boot2.readUInt16LE(2 * i));
  // movs r1, #divider; str r1, [r3, #20] (the bus's BAUDR)
  const divider = halves[halves.indexOf(0x6159) - 1];
  assert.equal(divider, 0x2100 | BUS.divider);
  const words = Array.from({ length: 64 }, (_, i) => boot2.readUInt32LE(4 * i));
  const [control, last] = [words.find((word) => (word & 0xffe0ffff) === 0x00400300), words[words.indexOf(FLASH_BASE + 0x100) - 1]];
  assert.deepEqual([((control >> 16) & 31) + 1, 32 / 4], [32, BUS.frame], 'a frame of 32 bits on four wires');
  assert.deepEqual([(last >> 2) & 15, (last >> 11) & 31], [BUS.address, BUS.waiting]);
});

/** All that makes edges, at once: 2 kHz, 20 000 probe edges a second, the mark, the indicator. */
function busy() {
  const bench = new Bench();
  bench.connect();
  bench.start(2000, { force: true, displacement: true, mark: true, indicator: true });
  bench.forget();
  bench.probe.move(20_000);
  return bench;
}

test('no stamp waits for the flash, though the program around it does', () => {
  const bench = busy();
  const { chip } = bench;
  assert.ok(isIn(RAM, chip.core.VTOR), 'where an interrupt goes is read from RAM, too');
  const before = chip.work.flashReads.slice();
  const [misses, stalled] = [chip.cache.misses, chip.work.stallCycles];
  for (let turn = 0; turn < 40; turn++) bench.mark.pass(bench.nowNs + 10 * MS + turn * 21.123457 * MS, 4 * MS, [40 * US, 90 * US]);
  bench.button.press(bench.nowNs + 100 * MS);
  bench.stream(1 * S);
  const reads = (exception) => chip.work.flashReads[exception] - before[exception];
  assert.deepEqual([reads(EXCEPTION.pins), reads(EXCEPTION.tick)], [0, 0]);
  assert.ok(reads(EXCEPTION.link) > 100_000);
  const found = chip.cache.misses - misses;
  tell(`flash: ${found} lines read in a second of ${MISS} cycles each, ${((chip.work.stallCycles - stalled) / chip.mcu.clkSys * 100).toFixed(1)} % of the time`);
  assert.ok(found > 100, 'the cache is too small for the program, as on the chip');
});

test('a stamp is never before its edge, and late by no more than promised, on the wire', () => {
  const bench = busy();
  const late = bench.watchStamps([PIN.dataReady, PIN.mark]);
  const edges = [];
  // At every phase of the microsecond, of the sample and of the millisecond.
  for (let turn = 0; turn < 400; turn++) {
    const atNs = Math.round(bench.nowNs + 10 * MS + turn * 11.0373 * MS);
    bench.mark.pass(atNs, 5 * MS);
    edges.push(atNs, atNs + 5 * MS);
  }
  bench.stream(5 * S);
  const stamps = bench.heard().of('Mark').map((mark) => mark.at_us);
  assert.equal(stamps.length, edges.length);
  // The timer counts whole microseconds: what it shows is up to one less than the time.
  const off = stamps.map((at_us, i) => at_us - edges[i] / US);
  const worst = Math.max(...late) / US;
  tell(`of ${late.length} stamps the earliest ${(Math.min(...late) / US).toFixed(2)} µs, the latest ${worst.toFixed(2)} µs after the edge; ` +
    `on the wire, in whole microseconds, ${Math.min(...off).toFixed(2)} to ${Math.max(...off).toFixed(2)} µs`);
  assert.ok(late.length > 10_000 && Math.min(...late) >= 0 && worst <= LATE_US);
  assert.ok(Math.min(...off) > -1 && Math.max(...off) <= LATE_US);
});
